"""One fitted club: its parts, numbers and fit-up."""
