"""The terminal interface."""
