"""The live session: what to touch next, and what an answer means."""
