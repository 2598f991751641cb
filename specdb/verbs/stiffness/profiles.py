"""The stiffness profile of one shaft with its uncertainty, from whatever the catalogue knows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue
from specdb.records.rows import Shaft, ShaftReading
from specdb.verbs.stiffness.corrections import Correction, corrections_of, with_corrections
from specdb.verbs.stiffness.finished import club_corrections, finished_clubs

if TYPE_CHECKING:
    from specdb.profiles.estimate import ProfileEstimate
    from specdb.profiles.evidence import Case
    from specdb.profiles.finished import FinishedClub
    from specdb.profiles.population import Population

STATIONS = 8
FROM_END_IN = 2.0  # first and last station from the ends of the raw shaft
_THIRDS = ("tip", "mid", "butt")
_PUBLISHED = {
    "raw_length_in": "raw length",
    "weight_g": "weight",
    "tip_dia_in": "tip diameter",
    "butt_dia_in": "butt diameter",
    "balance_from_tip_in": "balance point",
    "torque_deg": "torque",
    "tip_ei_n_m2": "tip stiffness figure",
    "butt_ei_n_m2": "butt stiffness figure",
    "flex": "flex",
    "kick_label": "kick point",
}
_IN_WORDS = ("flex", "kick_label")


@dataclass(frozen=True, slots=True)
class Stiffness:
    """Stiffness at a station or over a third of the raw shaft, of the nominal shaft.

    Attributes
    ----------
    ei_n_m2, sd_n_m2 : float
        N·m²; a mean where it is a third.
    """

    ei_n_m2: float
    sd_n_m2: float

    def to_json(self) -> dict[str, float]:
        """Plain values."""
        return {
            "ei_n_m2": self.ei_n_m2,
            "ei_sd_n_m2": self.sd_n_m2,
            "ei_sd_pct": 100.0 * self.sd_n_m2 / self.ei_n_m2,
        }


@dataclass(frozen=True, slots=True)
class Source:
    """What is known from one source.

    Attributes
    ----------
    name : str
        ``data sheet``, ``published readings``, the piece that was measured, or ``finished clubs``.
    known : tuple of str
        What it tells, such as ``weight`` or ``13 ei``.
    """

    name: str
    known: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ProfileAnswer:
    """What is known of the stiffness of a shaft.

    Attributes
    ----------
    shaft : Shaft
        Its record.
    estimate : ProfileEstimate
        The estimate, SI.
    known : tuple of Source
        What it was made from, by source.
    station_in : tuple of float
        Stations from the raw tip, in.
    stations : tuple of Stiffness
        At the stations.
    thirds : dict
        Mean over the ``tip``, ``mid`` and ``butt`` third of the raw shaft.
    teachers, makers : int
        Shafts of the catalogue that the usual profile was learned from, and makers with enough of them to be known.
    maker_known : bool
        Whether enough shafts of this maker taught for the maker to count as known.
    corrected : tuple of Correction
        Readings that were corrected for their instrument.
    tabled : bool
        Whether clubs are worked out from its complete EI table rather than from this estimate.
    """

    shaft: Shaft
    estimate: ProfileEstimate
    known: tuple[Source, ...]
    station_in: tuple[float, ...]
    stations: tuple[Stiffness, ...]
    thirds: dict[str, Stiffness]
    teachers: int
    makers: int
    maker_known: bool
    corrected: tuple[Correction, ...] = ()
    tabled: bool = False

    @property
    def used(self) -> str:
        """What clubs with this shaft are worked out from, in a sentence."""
        if self.tabled:
            return "Clubs with this shaft are worked out from its table of EI, which is complete."
        return "Clubs with this shaft, and what can stand in for them, are worked out from this estimate."

    @property
    def torque_deg(self) -> tuple[float, float]:
        """Torque rating and its standard deviation, degrees at one foot-pound."""
        from specdb.mechanics.constants import DEG, FT_LB

        per = FT_LB / DEG
        return self.estimate.twist_rad_per_nm * per, self.estimate.twist_sd * per

    def to_json(self) -> dict[str, Any]:
        """The answer as plain values, units in the names."""
        from specdb.mechanics.constants import GRAM, IN

        found = self.estimate
        torque, torque_sd = self.torque_deg
        return {
            "shaft": self.shaft.id,
            "raw_length_in": self.shaft.raw_length_in,
            "known": [{"source": s.name, "known": list(s.known)} for s in self.known],
            "readings": [
                {
                    "name": e.name,
                    "unit": e.unit,
                    "value": e.value,
                    "model": e.model,
                    "sd": e.sd,
                    "residual_in_sd": e.off,
                    "outlier": e.outlier,
                    "weight": e.weight,
                    "in_finished_club": e.in_club,
                }
                for e in found.evidence
            ],
            "refused": [{"name": r.name, "reason": r.reason, "reading_id": r.reading_id} for r in found.refused],
            "corrected": [c.to_json() for c in self.corrected],
            "assumed": list(found.assumed),
            "stations": [
                {"from_tip_in": place, **s.to_json()} for place, s in zip(self.station_in, self.stations, strict=True)
            ],
            "thirds": {name: s.to_json() for name, s in self.thirds.items()},
            "weight_g": found.mass_kg / GRAM,
            "weight_sd_g": found.mass_sd_kg / GRAM,
            "balance_from_tip_in": found.balance_m / IN,
            "balance_sd_in": found.balance_sd_m / IN,
            "torque_deg": torque,
            "torque_sd_deg": torque_sd,
            "piece_to_piece_ei_sd_pct": 100.0 * found.piece_sd,
            "population": {
                "shafts": self.teachers,
                "makers": self.makers,
                "maker_of_this_shaft_known": self.maker_known,
            },
            "used_by_substitutes": "table" if self.tabled else "estimate",
        }


def profile_of(catalogue: Catalogue, shaft_id: str) -> ProfileAnswer:
    """Estimate the stiffness profile of a shaft from all that is known of it.

    What shafts are usually like is learned from the shafts of the catalogue that have a table of EI, and kept.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    shaft_id : str
        The shaft.

    Raises
    ------
    NotFoundError
        If there is no such shaft; near matches are named.
    MissingDataError
        If its raw length is unknown.
    """
    from specdb.mechanics.constants import IN
    from specdb.mechanics.estimated import BEYOND_A_TABLE
    from specdb.mechanics.shaft_table import ShaftTable
    from specdb.profiles.estimate import estimate
    from specdb.profiles.evidence import make_case
    from specdb.verbs.stiffness.estimates import usual_shafts

    with catalogue.read() as reader:
        shaft: Shaft = reader.get("shaft", shaft_id)
        stored = reader.readings_of(shaft_id)
        corrections = corrections_of(reader, stored)
        readings = with_corrections(stored, corrections)
        clubs = finished_clubs(reader, [shaft_id]).get(shaft_id, [])
        on_clubs = club_corrections(reader, shaft_id)
        case = make_case(shaft, readings, clubs)
        population = usual_shafts(reader)
        benched = any(r.quantity in BEYOND_A_TABLE for r in readings) or any(c.tells for c in clubs)
        tabled = not benched and bool(ShaftTable.from_records([shaft], readings).complete[0])
    found = estimate(case, population)
    raw_in = case.raw_m / IN
    place = [FROM_END_IN + (raw_in - 2.0 * FROM_END_IN) * i / (STATIONS - 1) for i in range(STATIONS)]
    station_in = tuple(round(p, 1) for p in place)
    ei, log_sd = found.band([p * IN for p in station_in])
    return ProfileAnswer(
        shaft=shaft,
        estimate=found,
        known=_known(shaft, readings, clubs),
        station_in=station_in,
        stations=tuple(Stiffness(e, e * s) for e, s in zip(ei.tolist(), log_sd.tolist(), strict=True)),
        thirds=thirds_of(found),
        teachers=population.teachers,
        makers=len({maker for maker, _ in population.makers}),
        maker_known=_maker_known(case, population),
        corrected=(*corrections, *on_clubs),
        tabled=tabled,
    )


def _maker_known(case: Case, population: Population) -> bool:
    return (case.maker, case.group % 2) in population.makers


def _known(shaft: Shaft, readings: Sequence[ShaftReading], clubs: Sequence[FinishedClub]) -> tuple[Source, ...]:
    sheet = []
    for field, name in _PUBLISHED.items():
        value = getattr(shaft, field)
        if value is not None:
            sheet.append(f"{name} '{value}'" if field in _IN_WORDS else name)
    found = [Source("data sheet", tuple(sheet))]
    samples: dict[str, Counter[str]] = {}
    for row in readings:
        samples.setdefault(row.sample, Counter())[row.quantity] += 1
    for sample, counts in sorted(samples.items(), key=lambda item: (item[0] != "published", item[0])):
        name = "published readings" if sample == "published" else f"bench, {sample}"
        words = (f"{n} {'EI' if q == 'ei' else q.replace('_', ' ')}" for q, n in sorted(counts.items()))
        found.append(Source(name, tuple(words)))
    told = sum(c.tells for c in clubs)
    if told:
        found.append(Source("finished clubs", (f"{told} {'frequency' if told == 1 else 'frequencies'}",)))
    return tuple(found)


def thirds_of(found: ProfileEstimate) -> dict[str, Stiffness]:
    """Mean stiffness by third; the errors at the places of a third hang together, so they are added as such.

    Parameters
    ----------
    found : ProfileEstimate
        The estimate.
    """
    import numpy as np

    node_t = found.node_m / found.raw_m
    out = {}
    for i, name in enumerate(_THIRDS):
        at = (i + (np.arange(200) + 0.5) / 200.0) / 3.0
        # what each node counts for in the mean: straight lines between nodes
        share = np.array([np.interp(at, node_t, unit).mean() for unit in np.eye(node_t.size)])
        by_log = share * found.ei
        out[name] = Stiffness(float(by_log.sum()), float(np.sqrt(by_log @ found.log_ei_cov @ by_log)))
    return out
