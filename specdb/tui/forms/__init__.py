"""Forms of rows: fields checked while typing, drafts that survive."""
