"""Shaft and head specification database with a matching engine."""

__version__ = "0.1.0"
