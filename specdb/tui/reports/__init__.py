"""Reports on the screen."""
