"""Keeping the shop's catalogue: rows, stock, imports, the journal."""
