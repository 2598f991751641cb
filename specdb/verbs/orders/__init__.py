"""Orders: taken, changed, parts kept; the plan of all of them."""
