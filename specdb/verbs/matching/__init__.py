"""What can stand in for a shaft or a head."""
