"""Stiffness profiles: readings, instruments, estimates, pictures."""
