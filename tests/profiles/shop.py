"""A simulated shop: true tubes behind a catalogue that knows them more or less well, and questions put to it.

The catalogue goes the way of the product: leaflets and readings as Arrow tables, a population learned from EI tables,
estimates kept as columns, the matching index, the search. Beside it stands an index of the whole truth without any
uncertainty, searched by the same engine, and what pieces of the shafts really do when they are cut and glued.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields, replace
from enum import StrEnum
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from specdb.fitup.question import Shelf
from specdb.matching import MatchIndex, SubstituteQuestion, build_index
from specdb.matching.result import SubstituteReport
from specdb.mechanics.assembly import Parts, make_build
from specdb.mechanics.constants import DEG, FT_LB, IN
from specdb.mechanics.estimated import EstimatedProfiles
from specdb.profiles.columns import EstimateColumns
from specdb.profiles.estimate import estimate_many
from specdb.profiles.evidence import Case, make_case
from specdb.profiles.population import Population, learn
from specdb.records.rows import Grip, Head, Shaft, ShaftReading
from tests.profiles.fresh_truth import Tube, true_features
from tests.profiles.truth import Truth, bendings, frequencies
from tests.support.random_catalogue import _table as arrow_table

FloatArray = npt.NDArray[np.float64]

HEADS = {
    "wood": Head(
        id="head", club_type="wood", hand="right", weight_g=196, bore_dia_in=0.338, bore_form="parallel",
        bore_depth_in=1.25, bore_to_ground_in=1.5, hosel_outer_dia_in=0.500, cg_below_mouth_in=1.35,
    ),
    "iron": Head(
        id="head", club_type="iron", hand="right", number="7", weight_g=262, bore_dia_in=0.373, bore_form="parallel",
        bore_depth_in=1.25, bore_to_ground_in=1.0, hosel_outer_dia_in=0.530, cg_below_mouth_in=1.6,
    ),
}  # fmt: skip
GRIP = Grip(id="grip", weight_g=50, cap_in=0.25, length_in=10.5, balance_from_cap_in=4.2)
LENGTH_IN = {"wood": 45.0, "iron": 37.25}
SWINGWEIGHT = {"wood": "D3", "iron": "D2"}
MAX_ADD_G = 20.0


class Knows(StrEnum):
    """What the catalogue knows of a shaft, beside weight, torque and balance point of the leaflet."""

    TABLE = "EI table"
    BENCH = "bench readings"  # of the three below, one each in turn
    LEAFLET = "leaflet only"
    ONE = "one butt frequency"
    SEVEN = "seven frequencies"
    BEND = "eight bending stations"


THREE = (Knows.TABLE, Knows.BENCH, Knows.LEAFLET)
BENCHED = (Knows.ONE, Knows.SEVEN, Knows.BEND)


@dataclass(frozen=True, slots=True)
class Shop:
    """N shafts: the truth, what the catalogue has of them, and both indexes."""

    kind: str
    tubes: Sequence[Tube]
    knows: Sequence[Knows]
    readings: dict[str, tuple[ShaftReading, ...]]
    estimates: EstimatedProfiles
    index: MatchIndex
    truth: MatchIndex

    def place(self, shaft_id: str) -> int:
        """Number of a shaft."""
        return next(i for i, t in enumerate(self.tubes) if t.shaft.id == shaft_id)

    def club(self, number: int, trim_in: float) -> Parts:
        """A club fitted with one of the shafts, as the catalogue knows it."""
        shaft = self.tubes[number].shaft
        return Parts(
            shaft=shaft,
            readings=self.readings.get(shaft.id, ()),
            estimates=self.estimates,
            head=HEADS[self.kind],
            grip=GRIP,
            playing_length_in=LENGTH_IN[self.kind],
            swingweight=SWINGWEIGHT[self.kind],
            tip_trim_in=trim_in,
        )

    def asked(self, number: int, trim_in: float, top: int) -> SubstituteQuestion:
        """What can stand in for it, as far as the catalogue knows."""
        return SubstituteQuestion(club=self.club(number, trim_in), shelf=Shelf(), top=top, max_head_add_g=MAX_ADD_G)

    def asked_of_truth(self, number: int, trim_in: float, top: int) -> SubstituteQuestion:
        """The same question to one who knows everything."""
        club = replace(self.club(number, trim_in), model=self.tubes[number].model(), model_said="the truth")
        return SubstituteQuestion(club=club, shelf=Shelf(), top=top, max_head_add_g=MAX_ADD_G)

    def true_differences(
        self, number: int, trim_in: float, report: SubstituteReport, rng: np.random.Generator
    ) -> FloatArray:
        """What a piece of each proposed shaft really does beside a piece of the fitted one, shape (results, F)."""
        club = self.club(number, trim_in)
        fitted = true_features([self.tubes[number].piece(rng)], np.array([trim_in * IN]), [make_build(club)[0]])
        build = make_build(replace(club, max_head_add_g=MAX_ADD_G))[0]
        pieces = [self.tubes[self.place(r.shaft_id)].piece(rng) for r in report.results]
        trims = np.array([r.tip_trim_in * IN for r in report.results])
        return true_features(pieces, trims, [build] * len(pieces)) - fitted


def _of(kind: str, records: Sequence[Any]) -> pa.Table:
    names = [f.name for f in fields(records[0])]
    rows = [asdict(r) for r in records]
    return arrow_table(kind, {n: [r[n] for r in rows] for n in names if any(r[n] is not None for r in rows)})


def published_tables(tubes: Sequence[Tube], rng: np.random.Generator, stations: int = 14) -> list[list[ShaftReading]]:
    """Leaflets' EI tables, rounded; nobody says how good they are (three percent is taken)."""
    out = []
    for tube in tubes:
        at = np.linspace(1.0, tube.raw_m / IN - 1.0, stations).round(2)
        value = np.interp(at * IN, tube.place_m, tube.ei) * np.exp(rng.normal(0.0, 0.028, stations))
        out.append(
            [
                ShaftReading(
                    id=f"{tube.shaft.id}-{k}", shaft_id=tube.shaft.id, sample="published", quantity="ei",
                    value=round(float(v), 1), position_in=float(p),
                )
                for k, (p, v) in enumerate(zip(at, value, strict=True))
            ]
        )  # fmt: skip
    return out


def bench(tubes: Sequence[Tube], rng: np.random.Generator, state: Knows = Knows.BENCH) -> list[list[ShaftReading]]:
    """One piece of each on the bench: a butt frequency, or seven, or eight bending stations; and on the scales."""
    shown = BENCHED if state == Knows.BENCH else (state,)
    pieces = [Truth((p := t.piece(rng)).model(), p.shaft) for t in tubes]
    seven, bent = frequencies(pieces, rng, 0.005), bendings(pieces, rng, 0.02)
    out = []
    for i, piece in enumerate(pieces):
        own = {Knows.ONE: seven[i][-1:], Knows.SEVEN: seven[i], Knows.BEND: bent[i]}[shown[i % len(shown)]]
        model = piece.model
        for quantity, value, sd in (
            ("weight", 1e3 * model.mass_kg, 0.2),
            ("balance", (model.balance_from_tip_m or 0.0) / IN, 0.05),
        ):
            read = float(value + rng.normal(0.0, sd))
            own = [*own, ShaftReading(id="r", shaft_id=piece.shaft.id, sample="A", quantity=quantity, value=read)]
        out.append([replace(r, id=f"{piece.shaft.id}-{k}") for k, r in enumerate(own)])
    return out


def taught_by_tables(tubes: Sequence[Tube], seed: int, benched: Sequence[Case] = ()) -> Population:
    """A population learned from published tables, in a catalogue with other shafts read on the bench."""
    found = published_tables(tubes, np.random.default_rng(seed))
    return learn([*benched, *(make_case(t.shaft, r) for t, r in zip(tubes, found, strict=True))], "2026-01-01")


def open_shop(
    kind: str,
    tubes: Sequence[Tube],
    seed: int,
    population: Population | None = None,
    states: Sequence[Knows] = THREE,
) -> Shop:
    """Put an equal part of the shafts into each state of knowledge.

    Without a population one is learned from the tables of this very catalogue, as the product does.
    """
    rng = np.random.default_rng(seed)
    knows = [states[int(i) % len(states)] for i in rng.permutation(len(tubes))]
    readings: dict[str, tuple[ShaftReading, ...]] = {}
    for state in states:
        those = [t for t, k in zip(tubes, knows, strict=True) if k == state]
        if state == Knows.LEAFLET:
            continue
        found = published_tables(those, rng) if state == Knows.TABLE else bench(those, rng, state)
        readings.update({tube.shaft.id: tuple(own) for tube, own in zip(those, found, strict=True)})
    cases = [make_case(t.shaft, readings.get(t.shaft.id, ())) for t in tubes]
    known = learn(cases, "2026-01-01") if population is None else population
    wanted = [c for c, k in zip(cases, knows, strict=True) if k != Knows.TABLE]
    estimates = EstimateColumns.of(estimate_many(wanted, known)).profiles()
    shafts = _of("shaft", [t.shaft for t in tubes])
    index = build_index(shafts, _of("shaft_reading", [r for own in readings.values() for r in own]), estimates)
    return Shop(kind, tubes, knows, readings, estimates, index, _index_of_truth(tubes))


def _index_of_truth(tubes: Sequence[Tube]) -> MatchIndex:
    shafts: list[Shaft] = []
    readings: list[ShaftReading] = []
    for tube in tubes:
        model = tube.model()
        shafts.append(
            replace(
                tube.shaft,
                weight_g=1e3 * tube.mass_kg,
                balance_from_tip_in=(model.balance_from_tip_m or 0.0) / IN,
                torque_deg=(model.twist_rad_per_nm or 0.0) * FT_LB / DEG,
            )
        )
        readings += [
            ShaftReading(
                id="t", shaft_id=tube.shaft.id, sample="published", quantity="ei", value=float(v), position_in=p / IN
            )
            for p, v in zip(tube.place_m.tolist(), tube.ei.tolist(), strict=True)
        ]
    index = build_index(_of("shaft", shafts), _of("shaft_reading", readings))
    nothing = np.zeros(len(tubes))
    stations = replace(index.table.stations, log_sd=np.zeros_like(index.table.stations.log_sd))
    table = replace(
        index.table, stations=stations, common_sd=nothing, shape_sd=nothing, mass_sd_kg=nothing, balance_sd_m=nothing,
        twist_sd=nothing,
    )  # fmt: skip
    return replace(index, table=table, ei_floor=nothing)
