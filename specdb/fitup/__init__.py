"""Does this tip go in this hole, and what must be done first."""
