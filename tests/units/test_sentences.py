"""Words made a sentence."""

from __future__ import annotations

import pytest

from specdb.units.writing import as_sentence


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("its club is built", "Its club is built."),
        ("pellow-reed-50-600, tape on", "pellow-reed-50-600, tape on."),  # an id is written as it is
        ("o-1043: all 3 clubs are built", "o-1043: all 3 clubs are built."),
        ("stand-in chosen", "Stand-in chosen."),
        ("is it so?", "Is it so?"),
        ("dry-fit the head", "Dry-fit the head."),
        ("", ""),
    ],
)
def test_a_sentence_begins_with_a_capital_but_for_an_id(text: str, said: str) -> None:
    assert as_sentence(text) == said
