"""Whether some measured pieces of a shaft, such as this month's delivery, play differently from the rest."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue
from specdb.errors import MissingDataError, NotFoundError, UsageError
from specdb.records.rows import Shaft, ShaftReading
from specdb.units.writing import begun
from specdb.verbs.stiffness.corrections import Correction, corrections_of, with_corrections
from specdb.verbs.stiffness.finished import finished_clubs
from specdb.verbs.stiffness.pieces import piece_named

if TYPE_CHECKING:
    from specdb.profiles.batches import BatchDifference
    from specdb.profiles.estimate import ProfileEstimate
    from specdb.profiles.finished import FinishedClub

PUBLISHED = "published"
SURE, LIKELY = 0.01, 0.05  # chance of a difference as large where there is none
CLAMP_IN, USUAL_MASS_G = 5.0, 205.0  # of a butt frequency, where none was read


@dataclass(frozen=True, slots=True)
class BatchAnswer:
    """Some pieces of a shaft against the rest of what is known of it.

    Attributes
    ----------
    shaft : Shaft
        Its record.
    pieces, others : tuple of str
        The pieces asked about, and the other measured ones.
    leaflet : bool
        Whether the leaflet's own figures of stiffness are among the rest.
    difference : BatchDifference
        How much stiffer, with its uncertainty.
    butt_cpm : float
        A butt frequency for scale: what the difference comes to in cpm.
    butt_from : str
        Which frequency that is.
    known : dict of str to tuple of str
        What was read, by piece.
    corrections : tuple of Correction
        Readings of all pieces that were corrected for their instrument.
    """

    shaft: Shaft
    pieces: tuple[str, ...]
    others: tuple[str, ...]
    leaflet: bool
    difference: BatchDifference
    butt_cpm: float
    butt_from: str
    known: dict[str, tuple[str, ...]]
    corrections: tuple[Correction, ...]

    @property
    def verdict(self) -> str:
        """``softer``, ``stiffer`` or ``same``: which way the pieces differ, where chance does not explain it."""
        if self.difference.chance >= LIKELY:
            return "same"
        return "stiffer" if self.difference.stiffer > 0.0 else "softer"

    @property
    def ei_pct(self) -> tuple[float, float]:
        """Difference of EI in percent of the rest, and its standard deviation."""
        return 100.0 * math.expm1(self.difference.stiffer), 100.0 * self.difference.stiffer_sd

    @property
    def cpm(self) -> tuple[float, float]:
        """What that comes to at the butt frequency, cpm, and its standard deviation; frequency goes with √EI."""
        d = self.difference
        return self.butt_cpm * math.expm1(0.5 * d.stiffer), 0.5 * self.butt_cpm * d.stiffer_sd

    @property
    def rest(self) -> str:
        """What the pieces are held against, in words."""
        parts = [f"{len(self.others)} other piece{'s' if len(self.others) != 1 else ''}"] if self.others else []
        parts += ["the leaflet's stiffness"] if self.leaflet else []
        return " and ".join(parts) or "what shafts of its kind are usually like, as nothing else tells its stiffness"

    @property
    def sentence(self) -> str:
        """The answer in plain words."""
        one = len(self.pieces) == 1
        named = ", ".join(piece_named(p) for p in self.pieces)
        subject = begun(named)
        pct, pct_sd = self.ei_pct
        cpm, _ = self.cpm
        chance = f"by chance as much would be seen {_in_words(self.difference.chance)}"
        if self.verdict == "same":
            return (
                f"No difference can be told: {named} "
                f"{'has' if one else 'have'} an EI {pct:+.1f} % (± {pct_sd:.1f} %) against the rest; {chance}. "
                f"A difference of less than about {2.0 * pct_sd:.1f} % would not be seen."
            )
        sure = self.difference.chance < SURE
        plays = ("plays" if one else "play") if sure else ("seems to play" if one else "seem to play")
        return (
            f"{subject} {plays} {self.verdict} than the rest: EI {abs(pct):.1f} % {'higher' if pct > 0 else 'lower'} "
            f"(± {pct_sd:.1f} %), about {abs(cpm):.1f} cpm {'more' if cpm > 0 else 'less'} on {self.butt_from}; "
            f"{chance}."
        )

    def to_json(self) -> dict[str, Any]:
        """The answer as plain values."""
        (pct, pct_sd), (cpm, cpm_sd) = self.ei_pct, self.cpm
        return {
            "shaft": self.shaft.id,
            "pieces": list(self.pieces),
            "other_pieces": list(self.others),
            "leaflet_stiffness": self.leaflet,
            "verdict": self.verdict,
            "sentence": self.sentence,
            "ei_difference_pct": pct,
            "ei_difference_sd_pct": pct_sd,
            "off_in_sd": self.difference.off,
            "chance": self.difference.chance,
            "frequency_difference_cpm": cpm,
            "frequency_difference_sd_cpm": cpm_sd,
            "frequency_cpm": self.butt_cpm,
            "frequency_of": self.butt_from,
            "readings": {name: list(known) for name, known in self.known.items()},
            "corrected": [c.to_json() for c in self.corrections],
        }


def _in_words(chance: float) -> str:
    if chance < 0.001:
        return "less than once in a thousand times"
    if chance < 0.005:
        return f"{1000.0 * chance:.0f} times in a thousand"
    if chance < 0.095:
        return f"{100.0 * chance:.1g} times in a hundred" if chance >= 0.015 else "about once in a hundred times"
    if chance < 0.15:
        return "once in ten times"
    return f"{min(10.0 * chance, 9.0):.0f} times in ten"


def batch_of(
    catalogue: Catalogue, shaft_id: str, pieces: Sequence[str] = (), since: dt.date | None = None
) -> BatchAnswer:
    """Compare some pieces of a shaft with the rest of what is known of it.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    shaft_id : str
        The shaft.
    pieces : sequence of str
        The pieces, or
    since : date or None
        those first measured on this day or later.

    Raises
    ------
    UsageError
        If neither or both are given, or no piece was first measured since.
    NotFoundError
        If there is no such shaft, or a piece has no readings.
    MissingDataError
        If no reading of the pieces tells their stiffness, or the raw length is unknown.
    """
    from specdb.profiles.batches import batch_difference
    from specdb.profiles.estimate import estimate
    from specdb.profiles.evidence import make_case
    from specdb.profiles.population import builtin
    from specdb.profiles.readings import Kind
    from specdb.verbs.stiffness.estimates import kept_population

    if bool(pieces) == (since is not None):
        raise UsageError("say which pieces: --pieces p4,p5, or --since 2026-11-01 for those first measured since")
    with catalogue.read() as reader:
        shaft: Shaft = reader.get("shaft", shaft_id)
        stored = [r for r in reader.readings_of(shaft_id) if r.quantity != "outside_diameter"]
        corrections = corrections_of(reader, stored)
        clubs = finished_clubs(reader, [shaft_id]).get(shaft_id, [])
        case = make_case(shaft, with_corrections(stored, corrections), clubs)
        population = kept_population(reader) or builtin()
    measured = [p for p in case.pieces if p != PUBLISHED]
    asked = tuple(dict.fromkeys(pieces)) if since is None else _first_read_since(stored, measured, since, shaft_id)
    for piece in asked:
        if piece not in measured:
            raise NotFoundError("measured piece", piece, measured)
    told = {r.piece for r in case.readings if r.kind != Kind.LINEAR}
    if not told.intersection(asked):
        raise MissingDataError(
            f"no reading of {', '.join(asked)} tells a stiffness (EI, frequency, deflection or torque)", ["frequency"]
        )
    found = estimate(case, population)
    free_in, mass_g = _butt_set_up(stored, shaft)
    return BatchAnswer(
        shaft=shaft,
        pieces=asked,
        others=tuple(p for p in measured if p not in asked and p in told),
        leaflet=PUBLISHED in told or None in told,
        difference=batch_difference(case, asked, population),
        butt_cpm=_butt_cpm(found, free_in, mass_g),
        butt_from=f"a butt frequency at {free_in:g} in free length with {mass_g:g} g",
        known={p: _known(stored, clubs, p) for p in measured},
        corrections=corrections,
    )


def _first_read_since(
    readings: Sequence[ShaftReading], measured: Sequence[str], since: dt.date, shaft_id: str
) -> tuple[str, ...]:
    first: dict[str, dt.date] = {}
    for r in readings:
        if r.taken_on is not None:
            first[r.sample] = min(r.taken_on, first.get(r.sample, r.taken_on))
    found = tuple(p for p in measured if p in first and first[p] >= since)
    if not found:
        latest = max((first[p] for p in measured if p in first), default=None)
        told = "none has a day" if latest is None else f"the last one to be measured first was on {latest.isoformat()}"
        raise UsageError(f"no piece of {shaft_id} was first measured on {since.isoformat()} or later; {told}")
    return found


def _butt_set_up(readings: Sequence[ShaftReading], shaft: Shaft) -> tuple[float, float]:
    """Free length (in) and tip mass (g) that frequencies of this shaft were read with, else usual ones."""
    used = Counter(
        (r.free_length_in, r.tip_mass_g)
        for r in readings
        if r.quantity == "frequency" and r.free_length_in is not None and r.tip_mass_g is not None
    )
    if used:
        most = max(used.items(), key=lambda item: (item[1], item[0][0]))[0]
        return float(most[0] or 0.0), float(most[1] or 0.0)
    return (shaft.raw_length_in or 0.0) - CLAMP_IN, USUAL_MASS_G


def _butt_cpm(found: ProfileEstimate, free_in: float, mass_g: float) -> float:
    from specdb.mechanics.bench import frequency_reading
    from specdb.mechanics.constants import IN

    return float(frequency_reading([found.model()], free_in * IN, mass_g / 1000.0)[0])


def _known(readings: Sequence[ShaftReading], clubs: Sequence[FinishedClub], piece: str) -> tuple[str, ...]:
    counts = Counter("EI" if r.quantity == "ei" else r.quantity for r in readings if r.sample == piece)
    counts["frequency in a finished club"] = sum(c.piece == piece and c.tells for c in clubs)
    counts = +counts
    return tuple(f"{n} {quantity}" for quantity, n in sorted(counts.items()))
