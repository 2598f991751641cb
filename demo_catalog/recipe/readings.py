"""Rows of the kind ``shaft_reading``: makers' tables, and pieces on the shop's bench."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from recipe import makers
from recipe.beam import Blank, deflection_mm, lowest_frequency_cpm, three_point_ei, twist_deg
from recipe.design import TABLE, Design
from recipe.keys import digest_key
from recipe.scatter import normal

Row = dict[str, Any]

SPAN_IN = 8.0
JIG = "three-point jig, 8 in span, dial gauge"
METER = "frequency meter, 5 in clamp"
METER_2 = "frequency meter 2"  # its clamp gives a little: it reads less than is true
METER_2_OFFSET_CPM, METER_2_SCALE = -0.6, 0.990
CPM_LENGTH_IN = {"wood": 41.0, "hybrid": 36.0, "iron": 33.0, "wedge": 31.0, "putter": 31.0}
CPM_MASS_G = {"wood": 205.0, "hybrid": 230.0, "iron": 250.0, "wedge": 250.0, "putter": 250.0}
LOAD_N = 9.81


@dataclass(frozen=True)
class Piece:
    """One piece on the bench.

    Attributes
    ----------
    shaft, sample : str
        Key of the shaft, and which piece.
    day : str
        Day of the readings.
    what : str
        Letters: e EI, c frequency, d deflection, t torque, w weight, b balance, o outside diameter; s only three
        EI stations.
    by : str
        Who.
    thick_in : float
        How much its tip is over the leaflet's diameter, in.
    second_meter : bool
        Whether its frequency was read on the shop's second meter.
    """

    shaft: str
    sample: str
    day: str
    what: str
    by: str = makers.BUILDER
    thick_in: float = 0.0
    second_meter: bool = False


PIECES = (
    Piece("hollin-reach-sker-60-s", "piece 1", "2026-01-14", "ecwbo"),
    Piece("hollin-reach-sker-60-s", "piece 2", "2026-01-14", "ecwb"),
    Piece("hollin-reach-sker-60-x", "piece 1", "2026-01-15", "ecw"),
    Piece("hollin-reach-sker-70-s", "piece 1", "2026-01-15", "ecwbt"),
    Piece("hollin-reach-whimbrel-65-s", "piece 1", "2026-01-20", "ecwbo"),
    Piece("hollin-reach-holm-60-s", "piece 1", "2026-01-21", "ecwbo"),
    Piece("hollin-reach-holm-60-s", "piece 2", "2026-03-02", "cw", makers.FITTER),
    Piece("hollin-reach-holm-70-x", "piece 1", "2026-01-21", "wo", thick_in=0.0030),
    Piece("ambrel-lyde-60-s", "piece 1", "2026-01-22", "ecwo"),
    Piece("ambrel-selvedge-65-s", "piece 1", "2026-01-27", "ecwbd"),
    Piece("hollin-reach-ouzel-80-s", "piece 1", "2026-01-28", "ecw"),
    Piece("duskmere-gloam-60-s", "piece 1", "2026-02-03", "scwt"),
    Piece("quern-teasel-60-s", "piece 1", "2026-02-03", "cw"),
    Piece("quern-teasel-60-s", "piece 2", "2026-02-03", "cw"),
    Piece("quern-withy-65-s", "piece 1", "2026-02-04", "cdw"),
    Piece("quern-withy-55-r", "piece 1", "2026-02-04", "w", makers.FITTER),
    Piece("hollin-reach-sker-hybrid-85-s", "piece 1", "2026-02-10", "ecwb"),
    Piece("hollin-reach-holm-hybrid-80-s", "piece 1", "2026-02-10", "ecwo"),
    Piece("stavely-tenter-105-s-5", "piece 1", "2026-02-17", "ecwb"),
    Piece("stavely-tenter-105-s-7", "piece 1", "2026-02-17", "ecwbo"),
    Piece("stavely-tenter-105-s-7", "piece 2", "2026-02-17", "cw"),
    Piece("stavely-tenter-parallel-115-s", "piece 1", "2026-02-18", "ecwbo"),
    Piece("hollin-reach-sker-iron-90-s", "piece 1", "2026-02-18", "ecwt"),
    Piece("quern-withy-taper-70-r-7", "piece 1", "2026-02-19", "cw"),
    Piece("stavely-tenter-wedge-120-wedge", "piece 1", "2026-02-24", "ecw"),
    Piece("stavely-mandrel-putter-120-putter", "piece 1", "2026-02-24", "w", makers.FITTER),
    Piece("hollin-reach-holm-iron-95-x", "piece 1", "2026-03-09", "cw", second_meter=True),
)


def piece_of(shaft: str, sample: str) -> Piece:
    """A piece by its shaft and name.

    Parameters
    ----------
    shaft, sample : str
        Key of the shaft, and which piece.
    """
    return next(p for p in PIECES if (p.shaft, p.sample) == (shaft, sample))


def published(design: Design) -> Iterator[Row]:
    """The maker's table of stiffness, read off its curve.

    Parameters
    ----------
    design : Design
        The shaft.
    """
    line = design.line
    if line.known != TABLE:
        return
    end = line.raw_in - 1.5
    for place in np.arange(line.first_in, end, line.step_in):
        wobble = 1.0 + 0.006 * normal("published", design.key, place)
        value = round(float(design.blank.ei_at(place)) * wobble, 1)
        yield {"sample": "published", "quantity": "ei", "value": value, "position_in": float(place)}


class Bench:
    """The shop's bench with one piece on it; a piece is a little stiffer or softer than the leaflet throughout.

    Parameters
    ----------
    design : Design
        The shaft.
    piece : Piece
        Which piece.
    """

    def __init__(self, design: Design, piece: Piece) -> None:
        self.design, self.piece = design, piece
        self.level = 1.0 + 0.015 * normal("level", piece.shaft, piece.sample)
        self.weight_g = design.blank.weight_g + 0.5 * normal("weight", piece.shaft, piece.sample)
        self.blank: Blank = design.blank.scaled(self.level)

    def _error(self, *what: object) -> float:
        return normal("reading", self.piece.shaft, self.piece.sample, *what)

    def readings(self) -> Iterator[Row]:
        """All readings of the piece."""
        for letter in self.piece.what:
            yield from _READ[letter](self)

    def ei(self, places: tuple[float, ...] = ()) -> Iterator[Row]:
        """Three-point bending along the shaft."""
        raw = self.design.line.raw_in
        for place in places or np.arange(5.0, raw - 4.5, 3.0 if raw > 40.0 else 2.5):
            value = three_point_ei(self.blank, float(place), SPAN_IN) * (1.0 + 0.012 * self._error("ei", place))
            yield {
                "quantity": "ei",
                "value": round(value, 1),
                "position_in": float(place),
                "span_in": SPAN_IN,
                "load_n": 50.0,
                "sd": round(0.02 * value, 1),
                "instrument": JIG,
            }

    def few(self) -> Iterator[Row]:
        """Three stations only: too few for a profile."""
        return self.ei((8.0, 20.0, 32.0))

    def frequency(self) -> Iterator[Row]:
        """Frequency of the raw shaft with a mass clipped on."""
        kind = self.design.line.club_type
        free, mass = CPM_LENGTH_IN[kind], CPM_MASS_G[kind]
        value = lowest_frequency_cpm(self.blank, 0.0, free, mass / 1000.0)
        if self.piece.second_meter:
            value = METER_2_OFFSET_CPM + METER_2_SCALE * value
        value += 0.7 * self._error("cpm")
        yield {
            "quantity": "frequency",
            "value": round(value),
            "free_length_in": free,
            "tip_mass_g": mass,
            "sd": 1.0,
            "instrument": METER_2 if self.piece.second_meter else METER,
        }

    def deflection(self) -> Iterator[Row]:
        """Static deflection under a kilogram at the tip."""
        value = deflection_mm(self.blank, 40.0, LOAD_N) + 0.4 * self._error("mm")
        yield {
            "quantity": "deflection",
            "value": round(value, 1),
            "free_length_in": 40.0,
            "load_n": LOAD_N,
            "instrument": "deflection board",
        }

    def torque(self) -> Iterator[Row]:
        """Twist under 1 ft·lb between the clamps of the rating."""
        line = self.design.line
        gauge = line.raw_in - 2.0 if line.gauge_in is None else line.gauge_in
        value = twist_deg(self.blank, gauge) + 0.06 * self._error("torque")
        yield {"quantity": "torque", "value": round(value, 2), "free_length_in": gauge, "instrument": "torque jig"}

    def weight(self) -> Iterator[Row]:
        """Weight."""
        yield {"quantity": "weight", "value": round(self.weight_g, 1), "sd": 0.1, "instrument": "scales"}

    def balance(self) -> Iterator[Row]:
        """Balance point."""
        value = self.blank.balance_in + 0.05 * self._error("balance")
        yield {"quantity": "balance", "value": round(value, 2), "instrument": "knife edge"}

    def outside(self) -> Iterator[Row]:
        """Outside diameter behind the tip."""
        for place in (0.25, 1.0, 2.0, 3.0, 4.0, 5.0):
            value = self.blank.od_at(place) + self.piece.thick_in + 0.0003 * self._error("od", place)
            yield {
                "quantity": "outside_diameter",
                "value": round(value, 4),
                "position_in": place,
                "sd": 0.0003,
                "instrument": "micrometer",
            }


_READ = {
    "e": Bench.ei,
    "s": Bench.few,
    "c": Bench.frequency,
    "d": Bench.deflection,
    "t": Bench.torque,
    "w": Bench.weight,
    "b": Bench.balance,
    "o": Bench.outside,
}


def rows(designs: list[Design]) -> list[Row]:
    """All readings.

    Parameters
    ----------
    designs : list of Design
        All shafts.
    """
    found: list[Row] = []
    for design in designs:
        found += ({"shaft_id": design.key, **reading} for reading in published(design))
        for piece in PIECES:
            if piece.shaft == design.key:
                who = {"shaft_id": design.key, "sample": piece.sample, "taken_on": piece.day, "taken_by": piece.by}
                found += ({**who, **reading} for reading in Bench(design, piece).readings())
    missing = {p.shaft for p in PIECES} - {d.key for d in designs}
    if missing:
        raise ValueError(f"pieces of shafts that there are not: {sorted(missing)}")
    return [{"id": digest_key("shaft_reading", r), **r} for r in found]
