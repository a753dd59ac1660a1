"""connector-check: continuity checks of a freshly soldered connector, from pin map and meter readings."""
