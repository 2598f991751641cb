"""The plan of all orders, and its approval."""
