"""The fast features against the exact solution, on random shafts. Reference: the exact solution, itself held against
closed forms and finite-element libraries elsewhere in these tests."""

from __future__ import annotations

import numpy as np
import pytest

from specdb.matching.index import build_index
from specdb.mechanics import fast
from specdb.mechanics.assembly import Parts, make_build
from specdb.mechanics.cells import CELL_M
from specdb.mechanics.club import FEATURES, Build, installed
from specdb.records.rows import Adapter, Grip, Head, Shaft
from tests.support.random_catalogue import random_shafts

GRIP = Grip(id="grip", weight_g=50, cap_in=0.25, length_in=10.5, balance_from_cap_in=4.2)


def _build(kind: str) -> Build:
    adapter = None
    if kind == "driver with adapter":
        head = Head(id="h", club_type="wood", hand="right", weight_g=196, connection="k", seat_to_ground_in=1.9)
        adapter = Adapter(
            id="a", connection="k", bore_dia_in=0.335, bore_depth_in=1.3, bore_to_seat_in=-0.4, weight_g=6.5
        )
        length, swingweight = 45.25, "D3"
    elif kind == "driver":
        head = Head(
            id="h", club_type="wood", hand="right", weight_g=200, bore_depth_in=1.25, bore_to_ground_in=1.5,
            cg_below_mouth_in=1.3,
        )  # fmt: skip
        length, swingweight = 44.0, "D1.5"
    else:
        head = Head(id="h", club_type="iron", hand="left", weight_g=268, bore_depth_in=1.2, bore_to_ground_in=1.0)
        length, swingweight = 36.5, "D2"
    parts = Parts(
        shaft=Shaft(id="any", club_type="wood"), head=head, adapter=adapter, grip=GRIP,
        playing_length_in=length, swingweight=swingweight, max_head_add_g=15.0,
    )  # fmt: skip
    return make_build(parts)[0]


@pytest.mark.parametrize("kind", ["driver", "driver with adapter", "iron"])
@pytest.mark.parametrize("trim_cells", [0, 3, 8])
def test_fast_features_are_close_to_exact_on_random_shafts(kind: str, trim_cells: int) -> None:
    shafts, readings = random_shafts(1000, seed=11)
    index = build_index(shafts, readings)
    build = _build(kind)
    raw = index.table.raw_length_m
    rows = np.flatnonzero(raw - trim_cells * CELL_M >= build.cut_length_m)
    assert len(rows) > 500
    got, over = fast.features(index.fast, rows, fast.prepare(build), trim_cells)
    exact = installed(
        [index.table.model(int(r)) for r in rows],
        np.full(len(rows), trim_cells * CELL_M),
        build,
        with_sd=False,
    )
    ratio = got[FEATURES.index("frequency_cpm")] / exact.frequency_cpm - 1.0
    assert np.abs(ratio).max() < 5e-4
    assert ratio.min() > -1e-5  # Rayleigh's quotient is an upper bound
    for name, tolerance in {
        "tip_ei": 1e-4,
        "mid_ei": 1e-4,
        "butt_ei": 1e-4,
        "torque_deg": 1e-4,
        "shaft_weight_g": 1e-5,
        "balance_in": 1e-5,
        "total_weight_g": 1e-5,
        "moi_kg_cm2": 1e-5,
    }.items():
        i = FEATURES.index(name)
        assert got[i] == pytest.approx(exact.features[:, i], rel=tolerance), name
    kick = FEATURES.index("kick_point_pct")
    assert np.abs(got[kick] - exact.kick_point_pct).max() < 0.03
    assert over * 1000.0 == pytest.approx(exact.head_excess_g, abs=1e-2)


def test_unknown_torque_stays_unknown() -> None:
    shafts, readings = random_shafts(10, seed=3)
    names = shafts.column_names
    import pyarrow as pa

    shafts = shafts.set_column(names.index("torque_deg"), "torque_deg", pa.nulls(10, pa.float64()))
    index = build_index(shafts, readings)
    got, _ = fast.features(index.fast, slice(0, 10), fast.prepare(_build("driver")), 0)
    assert np.isnan(got[FEATURES.index("torque_deg")]).all()
    assert np.isfinite(np.delete(got, FEATURES.index("torque_deg"), axis=0)).all()
