"""Fitted sets: put together, in numbers, and the models that can stand in."""
