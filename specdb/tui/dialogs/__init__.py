"""Dialogs that every place may ask with."""
