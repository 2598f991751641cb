"""Fitted sets: mechanics, stand-ins, decisions."""
