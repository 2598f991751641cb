"""Which measurements of a club still count: those taken since a part of it was last spoilt at the bench.

What was measured before stays in the catalogue and tells of the shaft that was in it, but the club is no longer done by
it: it is built again, and measured again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from specdb.catalogue import Reader
from specdb.catalogue.spoilt import SpoiltPart
from specdb.orders.as_built import BuiltUnit, unit_of
from specdb.records.rows import AsBuilt
from specdb.units.writing import listed

__all__ = ["Counted", "counted", "spoilt_by_unit", "spoilt_words"]


@dataclass(frozen=True, slots=True)
class Counted:
    """What was measured on some clubs, as far as it counts.

    Attributes
    ----------
    rows : tuple of AsBuilt
        Values that count.
    before : tuple of AsBuilt
        Values that no longer do.
    spoilt : tuple of SpoiltPart
        Parts that were spoilt after what does not count was measured; the latest first.
    """

    rows: tuple[AsBuilt, ...]
    before: tuple[AsBuilt, ...] = ()
    spoilt: tuple[SpoiltPart, ...] = ()


def spoilt_by_unit(reader: Reader, order_id: str | None = None) -> dict[BuiltUnit, list[SpoiltPart]]:
    """Parts that were spoilt, the latest first, by the club they were for.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    order_id : str or None
        Only of this order.
    """
    found: dict[BuiltUnit, list[SpoiltPart]] = {}
    for part in reader.spoilt_parts(order_id):
        found.setdefault(BuiltUnit(part.club_id, part.order_id, part.line, part.unit), []).append(part)
    return found


def counted(reader: Reader, rows: Iterable[AsBuilt], spoilt: dict[BuiltUnit, list[SpoiltPart]]) -> Counted:
    """The values that were kept after the last part of their club was spoilt.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    rows : iterable of AsBuilt
        What was measured.
    spoilt : dict of BuiltUnit to list of SpoiltPart
        As :func:`spoilt_by_unit` gives it.
    """
    left: list[AsBuilt] = []
    before: list[AsBuilt] = []
    since: list[SpoiltPart] = []
    for row in rows:
        parts = spoilt.get(unit_of(row), ())
        # a row that an undo put back is as old as it was
        kept = reader.standing_change("as_built", row.id) if parts else 0
        after = [p for p in parts if p.change_no > kept]
        if after:
            before.append(row)
            since += [p for p in after if p not in since]
        else:
            left.append(row)
    return Counted(tuple(left), tuple(before), tuple(sorted(since, key=lambda p: -p.change_no)))


def spoilt_words(parts: Sequence[SpoiltPart]) -> str:
    """That parts of a club were spoilt, in a plain sentence without its point; empty where none was.

    Parameters
    ----------
    parts : sequence of SpoiltPart
        The parts.
    """
    if not parts:
        return ""
    kinds = list(dict.fromkeys(p.kind for p in parts))
    whys = list(dict.fromkeys(p.why for p in parts if p.why))
    why = f" ({'; '.join(whys)})" if whys else ""
    return f"its {listed(kinds)} {'was' if len(kinds) == 1 else 'were'} spoilt{why} after it was measured"
