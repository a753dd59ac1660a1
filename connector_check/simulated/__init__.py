"""A simulated bench: a faulty board, a meter, a person who answers. It judges verdicts and shares no inference."""
