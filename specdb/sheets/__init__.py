"""Build sheets: what stands on them as plain typed values, and the same as text and as PDF."""
