"""The place Build: one club at the bench, step by step, then measured."""
