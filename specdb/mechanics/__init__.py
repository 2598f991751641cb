"""Mechanics of cut, glued and gripped clubs: pure functions on arrays, SI inside, no input or output."""
