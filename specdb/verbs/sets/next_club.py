"""The next club down a set, proposed from the one above it: its head and shaft by number, its length and tip trim."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.catalogue import Catalogue, Reader
from specdb.errors import UsageError

if TYPE_CHECKING:
    from specdb.records.rows import Club, Head, Shaft

LENGTH_STEP_IN = 0.5  # from club to club; common practice, no source
TRIM_STEP_IN = 0.5  # of a parallel shaft from club to club; common practice, no source
_ROUNDED_IN = 0.125
_RETIRED = "retired"
# what was measured or added on one club says nothing of the next
_OWN_OF_A_CLUB = ("shaft_sample", "loft_deg", "lie_deg", "frequency_cpm", "frequency_clamp_in", "notes")


@dataclass(frozen=True, slots=True)
class NextClub:
    """A club that is proposed.

    Attributes
    ----------
    like : str
        The club it is copied from.
    number : str
        Number of its head.
    values : dict of str to (str or float or None)
        Fields in which it differs from that club; None leaves a field open.
    said : tuple of str
        What was taken from where, and what must be chosen by hand.
    """

    like: str
    number: str
    values: dict[str, str | float | None]
    said: tuple[str, ...]


def next_down(catalogue: Catalogue, club: str) -> NextClub:
    """Propose the next club down the set of a club: the next number that the set lacks.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    club : str
        Key of a club.

    Raises
    ------
    NotFoundError
        If there is no such club.
    UsageError
        If its head has no number that tells where it stands in a set.
    """
    from specdb.sets.numbers import name_of, place_of

    with catalogue.read() as reader:
        own: Club = reader.get("club", club)
        head: Head = reader.get("head", own.head_id)
        shaft: Shaft = reader.get("shaft", own.shaft_id)
        place = place_of(head.number)
        if place is None:
            raise UsageError(
                f"the head of {club} has no number that tells which club comes next: use 'like it' and choose the head"
            )
        others = _others(reader, own)
        taken = {place_of(h.number) for _, h in others}
        step = next(k for k in range(1, len(taken) + 2) if place + k not in taken)
        name, said = name_of(place + step), list[str]()
        values: dict[str, str | float | None] = dict.fromkeys(_OWN_OF_A_CLUB)
        if own.swingweight is not None:
            values["head_add_g"] = None
        values["head_id"] = _head(reader, head, place + step, name, said)
        values |= _shaft_values(reader, own, shaft, step, others, said)
    length_step = _a_club([(place_of(h.number), c.playing_length_in) for c, h in others], -LENGTH_STEP_IN)
    values["playing_length_in"] = own.playing_length_in + step * length_step
    said.append(f"{abs(step * length_step):g} in {'shorter' if length_step < 0 else 'longer'} than {club}")
    names = _names_of(head.number, place)
    values["id"] = _renumbered(own.id, names, name.lower())
    values["label"] = None if own.label is None else _renumbered(own.label, names, name)
    return NextClub(own.id, name, values, tuple(said))


def _others(reader: Reader, own: Club) -> list[tuple[Club, Head]]:
    """The clubs of the same set with their heads, its own among them."""
    clubs: list[Club] = [own]
    if own.set_id:
        clubs = [c for c in reader.rows("club") if c.set_id == own.set_id and c.status != _RETIRED]
    heads: dict[str, Head] = {h.id: h for h in reader.rows("head")}
    return [(c, heads[c.head_id]) for c in clubs if c.head_id in heads]


def _head(reader: Reader, head: Head, place: int, name: str, said: list[str]) -> str | None:
    """The head of the same model with that number."""
    from specdb.sets.numbers import place_of

    kin = [
        h
        for h in reader.rows("head")
        if (h.maker, h.model, h.hand) == (head.maker, head.model, head.hand)
        and h.status != _RETIRED
        and place_of(h.number) == place
    ]
    if not kin:
        model = " ".join(w for w in (head.maker, head.model) if w) or head.id
        said.append(f"no head number {name} of {model} is in the catalogue: choose the head")
        return None
    return str(min(kin, key=lambda h: (h.club_type != head.club_type, h.id)).id)


def _shaft_values(
    reader: Reader, own: Club, shaft: Shaft, step: int, others: Sequence[tuple[Club, Head]], said: list[str]
) -> dict[str, str | float | None]:
    """The shaft by number, or the same one with more tip trim."""
    from specdb.sets.numbers import name_of, place_of

    sold_for = place_of(shaft.club_number)
    if sold_for is None:
        same = [(place_of(h.number), c.tip_trim_in or 0.0) for c, h in others if c.shaft_id == own.shaft_id]
        more = step * _a_club(same, TRIM_STEP_IN)
        said.append(f"the same shaft, {more:g} in more off its tip")
        return {"tip_trim_in": (own.tip_trim_in or 0.0) + more}
    kin: list[Shaft] = [
        s
        for s in reader.rows("shaft")
        if (s.maker, s.model, s.flex, s.tip_form) == (shaft.maker, shaft.model, shaft.flex, shaft.tip_form)
        and s.status != _RETIRED
        and place_of(s.club_number) == sold_for + step
    ]
    if not kin:
        said.append(f"no shaft of its model for number {name_of(sold_for + step)} is in the catalogue: choose it")
        return {"shaft_id": None}
    weight = shaft.weight_g or 0.0
    return {"shaft_id": min(kin, key=lambda s: (abs((s.weight_g or 0.0) - weight), s.id)).id}


def _a_club(places: Iterable[tuple[int | None, float]], usual: float) -> float:
    """How much a value changes from club to club over a set, to an eighth of an inch; the usual where nothing tells."""
    known = sorted((p, v) for p, v in places if p is not None)
    if len(known) < 2 or known[-1][0] == known[0][0]:
        return usual
    (first, one), (last, other) = known[0], known[-1]
    return round((other - one) / (last - first) / _ROUNDED_IN) * _ROUNDED_IN


def _names_of(number: str | None, place: int) -> tuple[str, ...]:
    """What a number may be written as within a name."""
    from specdb.sets.numbers import name_of

    return tuple(dict.fromkeys(n for n in (number, name_of(place)) if n))


def _renumbered(text: str, old: Iterable[str], new: str) -> str | None:
    """A name with another number; None where the old one does not stand in it."""
    for name in old:
        found, count = re.subn(rf"(?<![a-z0-9]){re.escape(name)}(?![a-z0-9])", new, text, flags=re.IGNORECASE)
        if count == 1:
            return found
    return None
