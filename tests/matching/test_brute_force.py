"""The best 20 equal an exact search over every variant.

The reference search is written here on its own: every shaft at every tip trim is solved with the exact mechanics (which
are held against outside values elsewhere), scored by the formula and sorted. It shares neither the screening nor the
shortlist with the engine.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from specdb.fitup.question import Shelf
from specdb.matching import MatchIndex, SubstituteQuestion, build_index, find_substitutes
from specdb.matching.weighting import Tolerances
from specdb.mechanics.assembly import Parts, make_build
from specdb.mechanics.club import installed
from specdb.mechanics.constants import IN, IN_OZ
from specdb.mechanics.estimated import EstimatedProfiles
from specdb.mechanics.shaft_table import ShaftTable
from specdb.mechanics.swingweight import to_moment_in_oz
from specdb.records.rows import Grip, Head, Shaft, ShaftReading
from tests.support.partial import partly_known
from tests.support.random_catalogue import random_shafts
from tests.support.thorough import many

COUNT = 1000
HEAD = Head(
    id="head", club_type="wood", hand="right", weight_g=199, bore_dia_in=0.338, bore_form="parallel",
    bore_depth_in=1.25, bore_to_ground_in=1.5, cg_below_mouth_in=1.35,
)  # fmt: skip
GRIP = Grip(id="grip", weight_g=50, cap_in=0.25, length_in=10.5, balance_from_cap_in=4.2)
UNIT = np.array([2.5, 0.05, 0.05, 0.05, 0.3, 4.0, 0.4, 0.75, 5.0, 12.0])
RELATIVE = np.array([0, 1, 1, 1, 0, 0, 0, 0, 0, 0], dtype=bool)
MAX_ADD_G = 20.0
_TABLED = 40  # one shaft of so many has a table, so that estimated ones come among the best


@pytest.fixture(scope="module")
def catalogue() -> tuple[MatchIndex, list[dict[str, Any]], list[dict[str, Any]]]:
    shafts, readings = random_shafts(COUNT, seed=77)
    return build_index(shafts, readings), shafts.to_pylist(), readings.to_pylist()


@pytest.fixture(scope="module")
def partial() -> tuple[MatchIndex, list[dict[str, Any]], list[dict[str, Any]], EstimatedProfiles]:
    shafts, readings, estimates = partly_known(COUNT, seed=78, of=_TABLED)
    return build_index(shafts, readings, estimates), shafts.to_pylist(), readings.to_pylist(), estimates


def _club(rows: list[dict[str, Any]], readings: list[dict[str, Any]], number: int, trim: float) -> Parts:
    shaft = Shaft(**rows[number])
    own = [r for r in readings if r["shaft_id"] == shaft.id]
    return Parts(
        shaft=shaft,
        readings=tuple(ShaftReading(**{**r, "id": f"r{i}"}) for i, r in enumerate(own)),
        head=HEAD,
        grip=GRIP,
        playing_length_in=44.75,
        swingweight="D2.5",
        tip_trim_in=trim,
    )


def _exact_search(
    club: Parts,
    rows: list[dict[str, Any]],
    readings: list[dict[str, Any]],
    step: float,
    estimates: EstimatedProfiles | None = None,
    one_unit: np.ndarray = UNIT,
    weight: np.ndarray | None = None,
) -> list[tuple[str, float, float]]:
    """Shaft, best score, its trim; best first."""
    build, _, _, _ = make_build(club)
    reference_table = ShaftTable.from_records([club.shaft], club.readings)
    reference = installed([reference_table.model(0)], np.array([club.tip_trim_in * IN]), build)
    unit = np.where(RELATIVE, one_unit * reference.features[0], one_unit)
    counts = np.ones(len(unit)) if weight is None else weight
    limited = make_build(
        Parts(
            shaft=club.shaft,
            head=HEAD,
            grip=GRIP,
            playing_length_in=44.75,
            swingweight="D2.5",
            max_head_add_g=MAX_ADD_G,
        )
    )[0]
    assert limited.target_moment_kg_m == pytest.approx(to_moment_in_oz("D2.5") * IN_OZ)
    candidates = [r for r in rows if r["club_type"] in ("wood", "hybrid") and r["id"] != club.shaft.id]
    # bore 0.338 in, allowed clearance 0.001 to 0.006 in, so tips of 0.332 to 0.337 in; the parallel section is long
    # enough for the insertion at every trim looked at
    candidates = [r for r in candidates if 0.332 - 1e-9 <= r["tip_dia_in"] <= 0.337 + 1e-9]
    shafts = [Shaft(**r) for r in candidates]
    keys = {s.id for s in shafts}
    table = ShaftTable.from_records(
        shafts, [ShaftReading(**{**r, "id": f"q{i}"}) for i, r in enumerate(readings) if r["shaft_id"] in keys]
    )
    if estimates is not None:
        table = table.with_estimates(estimates)
    best: dict[str, tuple[float, float]] = {}
    for trim in np.arange(0.0, 2.0 + 1e-9, step):
        able = [
            i
            for i, s in enumerate(shafts)
            if (s.raw_length_in or 0) - trim >= limited.cut_length_m / IN - 1e-6
            and (s.tip_parallel_in or 0) - trim >= 1.25
        ]
        state = installed([table.model(i) for i in able], np.full(len(able), trim * IN), limited)
        difference = state.features - reference.features[0]
        u2 = state.sd_shaft**2 + reference.sd_shaft[0] ** 2
        scores = np.sqrt(((difference**2 + u2) / unit**2) @ counts / counts.sum())
        for i, value in zip(able, scores, strict=True):
            if shafts[i].id not in best or value < best[shafts[i].id][0] - 1e-12:
                best[shafts[i].id] = (float(value), float(trim))
    return sorted(((k, v[0], v[1]) for k, v in best.items()), key=lambda e: (e[1], e[0]))


@pytest.mark.slow
@pytest.mark.parametrize("block", range(many(2, 4)))
def test_best_twenty_equal_exact_search(
    catalogue: tuple[MatchIndex, list[dict[str, Any]], list[dict[str, Any]]], block: int
) -> None:
    index, rows, readings = catalogue
    rng = np.random.default_rng(2024 + block)
    woods = [i for i, r in enumerate(rows) if r["club_type"] == "wood"]
    for number in rng.choice(woods, many(3, 5), replace=False):
        club = _club(rows, readings, int(number), float(rng.choice([0.0, 0.5, 1.0])))
        for refine, step in ((None, 0.25), (0.125, 0.125)):
            expected = _exact_search(club, rows, readings, step)[:20]
            report = find_substitutes(
                index, SubstituteQuestion(club=club, shelf=Shelf(), max_head_add_g=MAX_ADD_G, refine_in=refine)
            )
            got = [(r.shaft_id, r.score, r.tip_trim_in) for r in report.results]
            assert [g[0] for g in got] == [e[0] for e in expected]
            assert [g[1] for g in got] == pytest.approx([e[1] for e in expected], rel=1e-9)
            assert [g[2] for g in got] == pytest.approx([e[2] for e in expected])


@pytest.mark.slow
def test_best_twenty_equal_exact_search_where_a_shop_looks_at_frequency_alone(
    catalogue: tuple[MatchIndex, list[dict[str, Any]], list[dict[str, Any]]],
) -> None:
    index, rows, readings = catalogue
    usual = Tolerances.default()
    alone = np.array([1.0, *[0.0] * 9])
    narrow = Tolerances("1 cpm", usual.unit / 2.5, alone)
    woods = [i for i, r in enumerate(rows) if r["club_type"] == "wood"]
    for number in np.random.default_rng(31).choice(woods, many(2, 4), replace=False):
        club = _club(rows, readings, int(number), 0.5)
        expected = _exact_search(club, rows, readings, 0.125, one_unit=UNIT / 2.5, weight=alone)[:20]
        question = SubstituteQuestion(
            club=club, shelf=Shelf(), max_head_add_g=MAX_ADD_G, refine_in=0.125, tolerances=narrow
        )
        report = find_substitutes(index, question)
        assert [r.shaft_id for r in report.results] == [e[0] for e in expected]
        assert [r.score for r in report.results] == pytest.approx([e[1] for e in expected], rel=1e-9)


@pytest.mark.slow
def test_best_twenty_equal_exact_search_where_most_shafts_are_estimated(
    partial: tuple[MatchIndex, list[dict[str, Any]], list[dict[str, Any]], EstimatedProfiles],
) -> None:
    index, rows, readings, estimates = partial
    rng = np.random.default_rng(2030)
    woods = [i for i, r in enumerate(rows) if r["club_type"] == "wood" and i % _TABLED == 0]
    estimated = 0
    for number in rng.choice(woods, many(3, 5), replace=False):
        club = _club(rows, readings, int(number), float(rng.choice([0.0, 0.5, 1.0])))
        expected = _exact_search(club, rows, readings, 0.125, estimates)[:20]
        report = find_substitutes(index, SubstituteQuestion(club=club, shelf=Shelf(), max_head_add_g=MAX_ADD_G))
        got = [(r.shaft_id, r.score, r.tip_trim_in) for r in report.results]
        assert [g[0] for g in got] == [e[0] for e in expected]
        assert [g[1] for g in got] == pytest.approx([e[1] for e in expected], rel=1e-9)
        assert [g[2] for g in got] == pytest.approx([e[2] for e in expected])
        estimated += sum(int(g[0][9:]) % _TABLED != 0 for g in got)
    assert estimated > many(6, 10)
