"""One board at that connector: its points, what conducts by design, what a short does."""
