"""One stiffness profile a shaft, with its uncertainty, from whatever is known of it."""
