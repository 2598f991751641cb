"""How much of a large sample is tried: what shows a fault in every run, all of it where ``SPECDB_THOROUGH`` is set."""

from __future__ import annotations

import os

THOROUGH = bool(os.environ.get("SPECDB_THOROUGH"))


def many(usual: int, all_of_it: int) -> int:
    """How many cases to try.

    Parameters
    ----------
    usual, all_of_it : int
        In every run, and in a thorough one.
    """
    return all_of_it if THOROUGH else usual
