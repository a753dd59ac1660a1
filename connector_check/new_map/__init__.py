"""A pin map of one's own, started from a table, a board or a few questions."""
