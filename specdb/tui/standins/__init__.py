"""What can stand in for the shaft or the head of a club."""
