"""What is typed of a club and not kept yet: values, reasons, its piece, and what was seen as kept when typing began.

It is kept under a name of this terminal's own, so that two terminals at one club do not write over each other's, and
comes back after a crash.
"""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from specdb.orders.tolerances import TOLERANCES
from specdb.verbs.building.sheet_code import UnitMeant, code_of

if TYPE_CHECKING:
    from specdb.tui.memory import Memory
    from specdb.verbs.building.finished_clubs import Seen

_WAIVED, _SEEN, _PIECE, _WHEN = "waived/", "seen/", "/piece", "/when"


@dataclass(slots=True)
class TypedClub:
    """What is typed of one club.

    Attributes
    ----------
    meant : UnitMeant
        The club.
    name : str
        Name of the draft.
    texts, waived : dict of str to str
        Values and reasons by quantity.
    piece : str
        The measured piece of its shaft; empty where none is named.
    seen : dict of str to Seen
        What was kept of each of them when typing began.
    """

    meant: UnitMeant
    name: str
    texts: dict[str, str] = field(default_factory=dict)
    waived: dict[str, str] = field(default_factory=dict)
    piece: str = ""
    seen: dict[str, Seen] = field(default_factory=dict)

    @property
    def unkept(self) -> dict[str, str]:
        """Values and reasons that are typed, by quantity."""
        return {**self.waived, **self.texts}

    def keep(self, memory: Memory) -> None:
        """Keep it; it is on the disk within half a second.

        Parameters
        ----------
        memory : Memory
            What is remembered.
        """
        values = dict(self.texts)
        values |= {f"{_WAIVED}{q}": why for q, why in self.waived.items()}
        if self.piece:
            values[_PIECE] = self.piece
        if not values:
            memory.drop_draft(self.name)
            return
        values |= {f"{_SEEN}{q}": json.dumps(pair) for q, pair in self.seen.items()}
        values[_WHEN] = dt.datetime.now(dt.UTC).isoformat()
        memory.keep_draft(self.name, values)

    def follow(self, kept: Mapping[str, Seen]) -> None:
        """Note what is kept of whatever is not typed yet.

        Parameters
        ----------
        kept : mapping of str to Seen
            What is kept, by quantity.
        """
        typed = self.unkept
        self.seen = {**kept, **{q: pair for q, pair in self.seen.items() if q in typed}}
        for q in typed:
            if q not in self.seen:
                self.seen[q] = (None, None)


def take_up(memory: Memory, meant: UnitMeant) -> TypedClub:
    """What was typed last of a club and not kept, by a terminal that is gone; else nothing.

    Parameters
    ----------
    memory : Memory
        What is remembered.
    meant : UnitMeant
        The club.
    """
    begin = f"build/{code_of(meant)}//"
    found = [(name, memory.draft(name) or {}) for name in memory.drafts() if name.startswith(begin)]
    if not found:
        return TypedClub(meant, f"{begin}{uuid.uuid4().hex[:12]}")
    name, values = max(found, key=lambda pair: pair[1].get(_WHEN, ""))
    return TypedClub(
        meant,
        name,
        {q: values[q] for q in TOLERANCES if q in values},
        {q: values[f"{_WAIVED}{q}"] for q in TOLERANCES if f"{_WAIVED}{q}" in values},
        values.get(_PIECE, ""),
        {q: pair for q in TOLERANCES if (pair := _pair(values.get(f"{_SEEN}{q}")))},
    )


def _pair(text: str | None) -> Seen | None:
    try:
        value, waived = json.loads(text or "")
    except (ValueError, TypeError):
        return None
    return (
        None if value is None else float(value),
        None if waived is None else str(waived),
    )
