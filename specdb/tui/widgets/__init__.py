"""What is drawn on every screen: lists, lines, curves, entries, and numbers and words as they are written there."""
