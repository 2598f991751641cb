"""What to ask about a reading that does not go with all else that is known of a shaft."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from specdb.profiles.estimate import Evidence

PUBLISHED = "published"
_IN_FULL = 3
_FULL = 0.9  # of its weight: a reading that counts for more than this counts as it stands
# what usually is behind it, by the unit of the reading (common practice, no source)
_SET_UP = {
    "cpm": ("free length from the clamp face to the tip end?", "clamped as always?", "clip weighed with the tip mass?"),
    "mm": ("free length from the clamp face to the load?", "load as written down?", "zeroed under no load?"),
    "deg": ("clamps as far apart as written down?", "per foot-pound?"),
    "N·m²": ("place and span as written down?", "zeroed under no load?"),
    "g": ("whole raw shaft, uncut and without grip?",),
    "in": ("measured from the tip?", "raw shaft, uncut?"),
}
_FINISHED = ("head and what was added weighed?", "lengths and tip trim as planned?", "clamped as always, no grip on?")
_LEAFLET = ("of this model and flex?", "of the raw shaft?")


def is_word(e: Evidence) -> bool:
    """Whether a reading is a word of the maker's or the likeness of its family, which has no figure for a person.

    Parameters
    ----------
    e : Evidence
        The reading.
    """
    return e.unit.startswith("ln")


def counts_less(e: Evidence) -> bool:
    """Whether a reading counts for clearly less than its standard deviation says, as all else contradicts it.

    Parameters
    ----------
    e : Evidence
        The reading.
    """
    return e.weight < _FULL


def counted(e: Evidence) -> str:
    """What a reading counts, in percent of what its standard deviation says.

    Parameters
    ----------
    e : Evidence
        The reading.
    """
    return "under 1 %" if e.weight < 0.01 else f"{100.0 * e.weight:.0f} %"


def question(e: Evidence) -> str:
    """An outlier with what to ask about it.

    Parameters
    ----------
    e : Evidence
        The reading.
    """
    side = "above" if e.off > 0.0 else "below"
    if is_word(e):
        return f"{e.name} lies {abs(e.off):.1f} sd {side} what all else leads to. Is it of this model and flex?"
    figures = f"{e.name} reads {e.value:.4g} {e.unit}, {abs(e.off):.1f} sd {side} what all else leads to"
    asked = ["typed right?"]
    if e.in_club:
        asked.extend((*_FINISHED, "this shaft and no other?"))
    elif e.piece is None or e.piece == PUBLISHED:
        asked.extend(_LEAFLET)
    else:
        asked.extend(_SET_UP.get(e.unit, ()))
        asked.append(f"{e.piece} and no other piece?")
    follows = f"in which it counts {counted(e)}" if counts_less(e) else "which follows it in part"
    return f"{figures} (the estimate, {follows}, has {e.model:.4g}): {' '.join(asked)}"


def questions(outliers: Sequence[Evidence]) -> list[str]:
    """What to ask about outliers, the worst first; the less bad ones in one sentence.

    Parameters
    ----------
    outliers : sequence of Evidence
        The outliers of one shaft.
    """
    order = sorted(outliers, key=lambda e: -abs(e.off))
    asked = [question(e) for e in order[:_IN_FULL]]
    if len(order) > _IN_FULL:
        others = ", ".join(f"{e.name} ({e.off:+.1f} sd)" for e in order[_IN_FULL:])
        asked.append(f"less far off, perhaps only because the ones above pull the estimate: {others}")
    return asked


def how_to_mend(shaft_id: str, outliers: Sequence[Evidence]) -> str:
    """How an outlier is corrected, in a sentence.

    Parameters
    ----------
    shaft_id : str
        The shaft.
    outliers : sequence of Evidence
        Its outliers.
    """
    ways = []
    if any(e.in_club for e in outliers):
        ways.append(
            f"'specdb list as_built --where \"shaft_id = '{shaft_id}'\" --columns id,club_id,quantity,value' gives the "
            "keys of what was measured on finished clubs and 'specdb set as_built KEY value=...' corrects one"
        )
    if any(e.piece is not None and not e.in_club for e in outliers):
        ways.append(
            f"'specdb list shaft_reading --where \"shaft_id = '{shaft_id}'\" --columns id,sample,quantity,value' "
            "gives the keys of the readings and 'specdb set shaft_reading KEY value=...' corrects one"
        )
    if any(e.piece is None and not e.in_club for e in outliers):
        ways.append(f"'specdb set shaft {shaft_id} FIELD=VALUE' corrects the data sheet")
    return f"{_as_counted(outliers)} {'; '.join(ways)}."


def _as_counted(outliers: Sequence[Evidence]) -> str:
    less = [e for e in outliers if counts_less(e)]
    if not less:
        one = "It is counted as it stands."
        return one if len(outliers) == 1 else "All are counted as they stand; mend the worst first and look again."
    if len(outliers) == 1:
        return "It is kept, but counts for little until it is mended; read it again if in doubt."
    whole = "" if len(less) == len(outliers) else " The others are counted as they stand."
    which = "All are kept, but count" if not whole else "Those said to count less are kept, but count"
    return f"{which} for little until they are mended; read them again if in doubt.{whole}"
