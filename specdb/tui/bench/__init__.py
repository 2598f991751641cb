"""The place Bench: readings of raw shafts."""
