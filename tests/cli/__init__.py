"""End to end through the command."""
