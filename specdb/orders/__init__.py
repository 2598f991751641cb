"""Orders: what their clubs need, what of it is kept, free, on its way or short. Records in, typed results out."""
