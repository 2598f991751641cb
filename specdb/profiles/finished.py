"""Frequencies of finished clubs as readings of their shafts.

A finished club tells the stiffness of the piece that is in it as a frequency on the bench does, with more that is not
known: the head is as listed rather than weighed, its centre of gravity is in doubt, lengths are as cut. What those
doubts come to is linear about one mass on a massless shaft, ``f ∝ 1/√(M δ)`` with ``δ = ∫ (u + c)²/EI du``. What is
common to the clubs of one shaft (centre of gravity, what a clamp gives, the calibration of the meter) does not get less
by their number: each of ``n`` counts with ``√n`` times that. A club of which nobody knows which piece is in it tells of
the shaft with the scatter from piece to piece added.

References
----------
Unit-load theorem and Rayleigh's method for one mass: Timoshenko, Young & Weaver, *Vibration Problems in Engineering*,
chapter 1.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from specdb.mechanics import constants, defaults
from specdb.mechanics.constants import GRAM, IN
from specdb.profiles.contradictions import Refused
from specdb.profiles.readings import HZ, Kind, Reading

_ROUNDING_M = 1e-6
_MIN_FREE_M = 5.0 * IN
_STIFFER = math.log(3.0)  # of a usual shaft, butt over tip
_HEAD_SHARE = 0.9  # of what moves at the free end of a usual club
_PIECE_REL = 0.5 * math.hypot(defaults.EI_PIECE_REL, 0.3 * defaults.EI_PIECE_TILT_REL)
_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(12)


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedClub:
    """Frequency of one finished club with what it was read under.

    Attributes
    ----------
    name : str
        Which club, for people.
    reading_id : str
        Key of the value.
    piece : str or None
        The piece of shaft in it.
    cpm : float
        Without grip, corrected for the meter.
    own_sd_cpm, common_sd_cpm : float
        Standard deviations: of the reading, and of the calibration of its meter.
    calibration : str
        Which calibration, the same for all that it corrected; empty where none did.
    clamp_in : float
        Clamped length of butt.
    tip_trim_in, insertion_in, cut_length_in : float or None
        What came off the tip, how deep the tip sits, length of the cut shaft.
    head_g : float or None
        Head with what was added.
    head_weighed : bool
        Whether it was weighed so, and is not as listed and planned.
    head_cg_in : float or None
        Its centre of gravity beyond the mouth; None where unknown.
    mouth_g : float
        Adapter, sleeve and ferrule.

    Where one of those is None but the centre of gravity, the frequency says nothing of the shaft.
    """

    name: str
    reading_id: str
    piece: str | None
    cpm: float
    own_sd_cpm: float
    common_sd_cpm: float = 0.0
    calibration: str = ""
    clamp_in: float
    tip_trim_in: float | None
    insertion_in: float | None
    cut_length_in: float | None
    head_g: float | None
    head_weighed: bool = False
    head_cg_in: float | None
    mouth_g: float = 0.0

    @property
    def tells(self) -> bool:
        """Whether it is known what it was read under."""
        return None not in (self.tip_trim_in, self.insertion_in, self.cut_length_in, self.head_g)


def club_readings(clubs: Sequence[FinishedClub], raw_m: float, *, wood: bool) -> list[Reading | Refused]:
    """Frequencies of finished clubs of one shaft as readings.

    Parameters
    ----------
    clubs : sequence of FinishedClub
        The clubs.
    raw_m : float
        Raw length of the shaft, m.
    wood : bool
        Whether it is for woods and hybrids, whose heads have their centre of gravity elsewhere.

    Returns
    -------
    list of Reading or Refused
        In the order of the clubs.
    """
    told = [c for c in clubs if c.tells]
    sharing = Counter(c.calibration for c in told)
    return [_reading(c, raw_m, wood, len(told), sharing[c.calibration]) for c in clubs]


def _reading(club: FinishedClub, raw_m: float, wood: bool, clubs: int, calibrated: int) -> Reading | Refused:
    name = f"frequency of the finished club {club.name}" + (f", {club.piece}" if club.piece else "")
    trim, depth, cut, head = club.tip_trim_in, club.insertion_in, club.cut_length_in, club.head_g
    if trim is None or depth is None or cut is None or head is None:
        return Refused(name, "what it was built to was not kept with it: enter the frequency again", club.reading_id)
    mouth, end = (trim + depth) * IN, (trim + cut) * IN
    face = end - club.clamp_in * IN
    if end > raw_m + _ROUNDING_M:
        reason = f"its cut shaft and tip trim need {end / IN:.2f} in of a shaft of {raw_m / IN:g} in"
        return Refused(name, reason, club.reading_id)
    if face - mouth < _MIN_FREE_M:
        return Refused(name, f"its free length is {(face - mouth) / IN:.2f} in", club.reading_id)
    usual = constants.HEAD_CG_WOOD_IN if wood else constants.HEAD_CG_IRON_IN
    link = (usual if club.head_cg_in is None else club.head_cg_in) * IN
    own, common = _doubt(club, head, raw_m, (mouth, face, link))
    calibration = math.sqrt(calibrated) * club.common_sd_cpm / club.cpm
    piece = _PIECE_REL if club.piece is None else 0.0
    sd = math.hypot(club.own_sd_cpm / club.cpm, own, piece, math.sqrt(clubs) * common, calibration)
    return Reading(
        name,
        Kind.FREQUENCY,
        club.cpm * HZ,
        sd * club.cpm * HZ,
        club.piece,
        mouth,
        min(face, raw_m),
        head * GRAM,
        link_m=link,
        mouth_kg=club.mouth_g * GRAM,
        bore_m=depth * IN,
        in_club=True,
        unit="cpm",
        per_unit=HZ,
    )


def _doubt(club: FinishedClub, head_g: float, raw_m: float, at: tuple[float, float, float]) -> tuple[float, float]:
    """What is not known of head and lengths, as parts of the frequency: of each club by itself, and common.

    ``at``: mouth and clamp face from the raw tip end, head beyond the mouth, m.
    """
    mouth, face, link = at
    half = 0.5 * (face - mouth)
    place = mouth + half * (1.0 + _GAUSS_X)
    flexible = half * _GAUSS_W * np.exp(-_STIFFER * place / raw_m)
    arm = place - mouth + link
    sag = float(flexible @ arm**2)
    by_head = -0.5 * _HEAD_SHARE / head_g
    by_link = -_HEAD_SHARE * float(flexible @ arm) / sag
    by_face = -0.5 * (face - mouth + link) ** 2 * math.exp(-_STIFFER * face / raw_m) / sag
    head = defaults.CLUB_HEAD_WEIGHED_SD_G if club.head_weighed else defaults.CLUB_HEAD_SD_G
    known = club.head_cg_in is not None
    cg = (defaults.CLUB_HEAD_CG_SD_IN if known else defaults.CLUB_HEAD_CG_UNKNOWN_SD_IN) * IN
    own = math.hypot(by_head * head, by_face * defaults.LENGTH_SD_IN * IN)
    return own, math.hypot(by_link * cg, defaults.CLUB_FREQUENCY_REL)
