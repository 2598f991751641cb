"""The place Catalogue: lists of any kind, details, history, imports, stock."""
