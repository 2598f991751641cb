"""The nearest buildable alternative to a fitted club: screening of all variants, exact refinement, ranking."""
