"""The raw shaft on the scale before it is cut: what it should weigh, what its piece weighs, and how that is named."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from specdb.catalogue import Reader
from specdb.records.rows import ShaftReading
from specdb.verbs.stiffness.corrections import readings_of
from specdb.verbs.stiffness.pieces import piece_named

_WITHIN_SDS = 2.0


@dataclass(frozen=True, slots=True)
class RawWeight:
    """What a raw shaft should weigh.

    Attributes
    ----------
    expected_g : float
        Its weight, g.
    within_g : float
        How far off it may be before the fitter is told, g.
    """

    expected_g: float
    within_g: float

    @classmethod
    def of(cls, weight_g: float, sd_g: float) -> RawWeight:
        """Of a shaft that is known to a standard deviation; two of those are no surprise.

        Parameters
        ----------
        weight_g, sd_g : float
            Its weight and the standard deviation of that, g.
        """
        return cls(weight_g, _WITHIN_SDS * sd_g)

    def words(self, weighed_g: float, piece: str) -> tuple[str, bool]:
        """What a piece was found to weigh, in a plain sentence; and whether that is as expected.

        Parameters
        ----------
        weighed_g : float
            Weight of the piece, g.
        piece : str
            Its name.
        """
        off = weighed_g - self.expected_g
        fits = abs(off) <= self.within_g + 0.05
        side = "more" if off > 0 else "less"
        against = "as expected" if abs(off) < 0.05 else f"{abs(off):.1f} g {side} than expected"
        told = "" if fits else ": tell the fitter before it is cut"
        return f"{piece_named(piece)} weighs {weighed_g:.1f} g raw, {against}{told}", fits


def weighed_raw(reader: Reader, shaft_id: str, piece: str | None) -> float | None:
    """Raw weight of a piece as it was read last, g; None where it was not weighed.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    shaft_id : str
        The shaft.
    piece : str or None
        The piece, as its readings name it.
    """
    own: list[ShaftReading] = [
        r for r in reader.readings_of(shaft_id) if r.sample == piece and r.quantity == "weight" and r.value is not None
    ]
    return max(own, key=lambda r: (str(r.taken_on or ""), r.id)).value if own else None


def expected_raw(reader: Reader, shaft_id: str, piece: str) -> tuple[float, float] | None:
    """What a piece should weigh by all that is known of its shaft but the weight of that very piece.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    shaft_id : str
        The shaft.
    piece : str
        The piece, as its readings name it.

    Returns
    -------
    tuple of float or None
        Weight and its standard deviation, g; None where nothing else is known.
    """
    from specdb.mechanics.constants import GRAM
    from specdb.mechanics.shaft_table import ShaftTable

    others = [r for r in readings_of(reader, shaft_id) if (r.sample, r.quantity) != (piece, "weight")]
    table = ShaftTable.from_records([reader.get("shaft", shaft_id)], others)
    weight, sd = float(table.mass_kg[0]) / GRAM, float(table.mass_sd_kg[0]) / GRAM
    return (weight, sd) if math.isfinite(weight) else None


def next_piece(known: Iterable[str]) -> str:
    """A name for a piece that was not measured yet: ``piece 3`` where there are ``piece 1`` and ``piece 2``.

    Parameters
    ----------
    known : iterable of str
        Pieces of the shaft that were measured.
    """
    taken = {name.strip().lower() for name in known}
    number = 1
    while taken & {f"piece {number}", f"p{number}", str(number)}:
        number += 1
    return f"piece {number}"
