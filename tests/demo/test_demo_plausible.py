"""The invented numbers lie in the ranges of the trade.

Ranges: common practice, no source, except where said. Stiffness: driver shafts about 15 to 30 N·m² at the tip and 50
to 90 at the butt, irons about 25 to 40 and 60 to 100 (from memory, consistent with US patents 6,652,389 and 8,414,417).
"""

from __future__ import annotations

import numpy as np
import pytest

from specdb.catalogue import Catalogue
from specdb.mechanics.assembly import Parts, assemble, make_build
from specdb.mechanics.club import installed
from specdb.mechanics.constants import IN
from specdb.mechanics.shaft_table import ShaftTable
from specdb.records.rows import Grip, Head, Shaft
from specdb.verbs.clubs import ClubRequest
from specdb.verbs.fitup import fitup_of
from specdb.verbs.substitutes import substitutes_of

GRIP = Grip(id="grip", weight_g=50, cap_in=0.25, length_in=10.5, balance_from_cap_in=4.2)
DRIVER = Head(id="d", club_type="wood", hand="right", weight_g=200, bore_depth_in=1.25, bore_to_ground_in=1.5, cg_below_mouth_in=1.35)  # fmt: skip  # noqa: E501


def _shafts(demo: Catalogue, kind: str) -> list[Shaft]:
    with demo.read() as reader:
        return [s for s in reader.rows("shaft") if s.club_type == kind]


def _table(demo: Catalogue, kind: str) -> ShaftTable:
    with demo.read() as reader:
        shafts = [s for s in reader.rows("shaft") if s.club_type == kind]
        readings = [r for s in shafts for r in reader.readings_of(s.id)]
    return ShaftTable.from_records(shafts, readings)


def test_weights_and_torques(demo: Catalogue) -> None:
    for s in _shafts(demo, "wood"):
        assert s.weight_g is not None
        assert 38 <= s.weight_g <= 85
        assert s.torque_deg is None or 2.5 <= s.torque_deg <= 6.5
    for s in _shafts(demo, "iron"):
        assert s.weight_g is not None
        low, high = (90, 130) if s.material == "steel" else (55, 100)
        assert low <= s.weight_g <= high, s.id
        assert s.torque_deg is None or (1.5 if s.material == "steel" else 2.0) <= s.torque_deg <= 4.5
    for kind in ("wood", "hybrid", "iron", "wedge", "putter"):
        for s in _shafts(demo, kind):
            if s.balance_from_tip_in and s.raw_length_in:
                assert 0.48 <= s.balance_from_tip_in / s.raw_length_in <= 0.56, s.id


@pytest.mark.parametrize(("kind", "tip", "butt"), [("wood", (13, 32), (48, 92)), ("iron", (18, 42), (55, 105))])
def test_stiffness(demo: Catalogue, kind: str, tip: tuple[float, float], butt: tuple[float, float]) -> None:
    table = _table(demo, kind)
    for row in np.flatnonzero(table.computable):
        model = table.model(int(row))
        near_tip = float(model.ei(np.array([5.0 * IN]))[0])
        near_butt = float(model.ei(np.array([model.raw_length_m - 6.0 * IN]))[0])
        assert tip[0] <= near_tip <= tip[1], table.ids[row]
        assert butt[0] <= near_butt <= butt[1], table.ids[row]


def test_driver_frequencies_at_45_in_with_a_200_g_head(demo: Catalogue) -> None:
    """About 230 to 280 cpm (common practice, no source)."""
    table = _table(demo, "wood")
    parts = Parts(shaft=Shaft(id="x", club_type="wood"), head=DRIVER, grip=GRIP, playing_length_in=45.0)
    build = make_build(parts)[0]
    rows = [int(r) for r in np.flatnonzero(table.computable)]
    cpm = installed([table.model(r) for r in rows], np.zeros(len(rows)), build).frequency_cpm
    assert cpm.min() > 222
    assert cpm.max() < 284
    by_id = {table.ids[r]: float(c) for r, c in zip(rows, cpm, strict=True)}
    letters = [by_id["quern-composites-rampart-60-s"], by_id["hollin-reach-wether-60-s"]]
    assert letters[0] - letters[1] > 10.0  # one letter, more than a full step (about 10 cpm) apart


def test_iron_frequencies_at_their_own_lengths(demo: Catalogue) -> None:
    """About 270 to 340 cpm (common practice, no source); the stiffest short irons a little above."""
    lengths = {"3": 39.0, "4": 38.5, "5": 38.0, "6": 37.5, "7": 37.0, "8": 36.5, "9": 36.0, "PW": 35.75}
    trims = {"5": 2.0, "7": 3.0, "9": 4.0}
    with demo.read() as reader:
        heads = {h.number: h for h in reader.rows("head") if h.model in ("Adit", "Moorhen") and h.hand == "right"}
        shafts = [s for s in reader.rows("shaft") if s.club_type == "iron"]
        readings = [r for s in shafts for r in reader.readings_of(s.id)]
    table = ShaftTable.from_records(shafts, readings)
    cpm = []
    for row in np.flatnonzero(table.computable).tolist():
        for number in [shafts[row].club_number] if shafts[row].club_number else list(trims):
            trim = 0.0 if shafts[row].club_number else trims[str(number)]
            build = make_build(
                Parts(
                    shaft=shafts[row],
                    head=heads[number],
                    grip=GRIP,
                    playing_length_in=lengths[str(number)],
                    swingweight="D2",
                )
            )[0]
            cpm.append(float(installed([table.model(row)], np.array([trim * IN]), build).frequency_cpm[0]))
    assert len(cpm) > 60
    assert min(cpm) > 265
    assert max(cpm) < 347
    assert np.mean(np.array(cpm) <= 340) > 0.9


def test_fitted_clubs_have_plausible_frequencies_and_fit(demo: Catalogue) -> None:
    bands = {"wood": (235, 285), "hybrid": (260, 310), "iron": (270, 350), "wedge": (300, 360), "putter": (300, 450)}
    with demo.read() as reader:
        clubs = reader.rows("club")
        heads = {h.id: h for h in reader.rows("head")}
    for club in clubs:
        answer = fitup_of(demo, ClubRequest(club=club.id))
        assert answer.verdict == "fits", (club.id, [c for c in answer.checks if c.verdict != "fits"])
        with demo.read() as reader:
            parts = Parts(
                shaft=reader.get("shaft", club.shaft_id),
                readings=tuple(reader.readings_of(club.shaft_id)),
                head=heads[club.head_id],
                adapter=reader.get("adapter", club.adapter_id) if club.adapter_id else None,
                grip=reader.get("grip", club.grip_id),
                tip_trim_in=club.tip_trim_in,
                playing_length_in=club.playing_length_in,
                swingweight=club.swingweight,
            )
        assembly = assemble(parts)
        state = installed([assembly.model], np.array([club.tip_trim_in * IN]), assembly.build)
        low, high = bands[heads[club.head_id].club_type]
        assert low <= state.frequency_cpm[0] <= high, club.id
        assert state.head_excess_g[0] == 0.0


def test_the_scenario_has_stand_ins_of_every_kind(demo: Catalogue) -> None:
    answer = substitutes_of(demo, ClubRequest(club="ashby-driver"))
    assert answer.on_hand == 0
    assert answer.supply is not None
    assert answer.supply.backordered
    results = answer.report.results
    assert len(results) == 20
    assert any(r.preparation_cost > 0 for r in results)
    assert any((r.in_stock or 0) > 0 for r in results[:10])
    softer = [r for r in results if r.shaft_id.endswith("-r") and r.tip_trim_in >= 1.0]
    assert softer
    assert results[0].score < 1.2
    assert any("stiffness" in e["reason"] for e in answer.report.excluded.to_json())
