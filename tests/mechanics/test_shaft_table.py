"""From catalogue values and readings to the numbers that are computed with."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from specdb.errors import MissingDataError
from specdb.mechanics import defaults
from specdb.mechanics.constants import IN
from specdb.mechanics.shaft_table import Knowledge, ShaftTable
from specdb.records.rows import Shaft, ShaftReading
from tests.support.random_catalogue import random_shafts

BASE = {"club_type": "wood", "raw_length_in": 46.0, "weight_g": 60.0}


def _shaft(shaft_id: str = "one", **values: object) -> Shaft:
    return Shaft(id=shaft_id, **{**BASE, **values})  # type: ignore[arg-type]


def _ei(
    place: float, value: float, sample: str = "published", shaft: str = "one", sd: float | None = None
) -> ShaftReading:
    return ShaftReading(
        id=f"{shaft}-{sample}-{place}-{value}", shaft_id=shaft, sample=sample, quantity="ei", value=value,
        position_in=place, sd=sd,
    )  # fmt: skip


PUBLISHED = [_ei(p, 20.0 + p) for p in (5.0, 15.0, 25.0, 35.0)]


def test_published_table_is_used_in_order_of_place() -> None:
    table = ShaftTable.from_records([_shaft()], list(reversed(PUBLISHED)))
    model = table.model(0)
    assert table.knowledge[0] == Knowledge.PUBLISHED_TABLE
    assert model.station_m == pytest.approx(np.array([5.0, 15.0, 25.0, 35.0]) * IN)
    assert model.ei_n_m2 == pytest.approx([25.0, 35.0, 45.0, 55.0])


def test_bench_wins_where_it_covers_the_shaft_and_only_there() -> None:
    bench = [_ei(p, 30.0 + p, "piece 1") for p in (6.0, 16.0, 26.0, 36.0)]
    both = ShaftTable.from_records([_shaft()], [*PUBLISHED, *bench])
    assert both.knowledge[0] == Knowledge.MEASURED_TABLE
    assert both.model(0).ei_n_m2 == pytest.approx([36.0, 46.0, 56.0, 66.0])
    few = ShaftTable.from_records([_shaft()], [*PUBLISHED, *bench[:2]])
    assert few.knowledge[0] == Knowledge.PUBLISHED_TABLE
    assert few.model(0).ei_n_m2 == pytest.approx([25.0, 35.0, 45.0, 55.0])


def test_repeated_readings_at_a_station_are_averaged_by_their_precision() -> None:
    readings = [_ei(10.0, 30.0, sd=0.3), _ei(10.0, 33.0, sd=0.66), _ei(20.0, 40.0), _ei(30.0, 50.0)]
    model = ShaftTable.from_records([_shaft()], readings).model(0)
    # inverse-variance weights of ln EI: relative sd 1 % and 2 % give weights 4 : 1
    assert np.log(model.ei_n_m2[0]) == pytest.approx((4 * np.log(30.0) + np.log(33.0)) / 5)
    own = model.log_ei_cov[0, 0] - defaults.EI_PIECE_REL**2
    assert own == pytest.approx(1.0 / (1 / 0.01**2 + 1 / 0.02**2))


@pytest.mark.parametrize("places", [(8.0,), (8.0, 20.0), (6.0, 9.0, 12.0), (8.0, 8.0, 8.01)])
def test_stations_close_together_are_no_profile(places: tuple[float, ...]) -> None:
    """Driver shafts are some three times as stiff at the butt as at the tip (common practice, no source)."""
    bench = [_ei(p, 25.0 + n, "piece 1") for n, p in enumerate(places)]
    alone = ShaftTable.from_records([_shaft()], bench)
    assert not alone.computable[0]
    assert "stiffness" in alone.missing(0)[0]
    figures = _shaft(tip_ei_n_m2=22.0, tip_ei_at_in=8.0, butt_ei_n_m2=66.0, butt_ei_at_in=38.0)
    both = ShaftTable.from_records([figures], bench)
    assert both.knowledge[0] == Knowledge.TWO_FIGURES
    assert both.model(0).ei(np.array([8.0, 38.0]) * IN) == pytest.approx([22.0, 66.0])
    assert any("too few" in s for s in both.assumed(0))


def test_two_stations_far_apart_are_a_straight_line_with_a_large_uncertainty() -> None:
    table = ShaftTable.from_records([_shaft()], [_ei(0.0, 20.0), _ei(46.0, 70.0)])
    assert table.knowledge[0] == Knowledge.PUBLISHED_TABLE
    assert table.model(0).ei(np.array([23.0 * IN]))[0] == pytest.approx(45.0)
    assert (np.sqrt(np.diag(table.model(0).log_ei_cov)) > 0.1).all()


def test_three_stations_over_a_third_are_a_profile_beside_one_of_none() -> None:
    bench = [_ei(p, 20.0 + p, "piece 1", "two") for p in (8.0, 20.0, 32.0)]
    table = ShaftTable.from_records([_shaft(), _shaft("two")], [_ei(8.0, 25.0, "piece 1"), *bench])
    assert list(table.knowledge) == [Knowledge.NONE, Knowledge.MEASURED_TABLE]
    assert table.model(1).ei_n_m2 == pytest.approx([28.0, 40.0, 52.0])


def test_two_figures_give_a_straight_line_with_a_large_uncertainty() -> None:
    shaft = _shaft(tip_ei_n_m2=20.0, tip_ei_at_in=6.0, butt_ei_n_m2=70.0, butt_ei_at_in=36.0)
    table = ShaftTable.from_records([shaft])
    model = table.model(0)
    assert table.knowledge[0] == Knowledge.TWO_FIGURES
    assert model.ei(np.array([6.0, 21.0, 36.0, 2.0, 44.0]) * IN) == pytest.approx([20.0, 45.0, 70.0, 20.0, 70.0])
    sd = np.sqrt(np.diag(model.log_ei_cov))
    assert (sd > 0.1).all()
    assert any("two figures" in s for s in table.assumed(0))
    assert not any("place of the tip" in s for s in table.assumed(0))


def test_two_figures_without_places_say_what_was_assumed() -> None:
    table = ShaftTable.from_records([_shaft(tip_ei_n_m2=20.0, butt_ei_n_m2=70.0)])
    assert table.knowledge[0] == Knowledge.TWO_FIGURES
    assert any("place of the tip" in s for s in table.assumed(0))


def test_labels_only_cannot_be_computed_and_the_error_names_what_is_missing() -> None:
    table = ShaftTable.from_records([_shaft(weight_g=None, kick_label="mid", flex="S")])
    assert not table.computable[0]
    with pytest.raises(MissingDataError) as caught:
        table.model(0)
    assert "weight_g" in caught.value.missing
    assert any("stiffness" in m for m in caught.value.missing)


def test_weight_comes_from_both_published_and_measured_pieces() -> None:
    weighed = [
        ShaftReading(id=f"w{i}", shaft_id="one", sample=f"piece {i}", quantity="weight", value=63.0) for i in range(4)
    ]
    table = ShaftTable.from_records([_shaft()], [*PUBLISHED, *weighed])
    alone = ShaftTable.from_records([_shaft()], PUBLISHED)
    assert alone.mass_kg[0] == pytest.approx(0.060)
    assert 0.0625 < table.mass_kg[0] < 0.063  # four pieces outweigh the leaflet
    assert table.mass_sd_kg[0] < alone.mass_sd_kg[0]


@pytest.mark.parametrize("rated", [None, 40.0])
@pytest.mark.parametrize("between", [30.0, 38.0, 44.0])
def test_torque_read_between_other_clamps_is_brought_to_the_gauge_of_the_rating(
    rated: float | None, between: float
) -> None:
    """Twist of a bar of changing section is ``∫ T ds/GJ`` (Timoshenko & Gere, *Mechanics of Materials*, torsion)."""
    gauge = 44.0 if rated is None else rated

    def flexibility(length: float) -> float:
        ends = 23.0 - length / 2.0, 23.0 + length / 2.0
        places = [p for p in (5.0, 15.0, 25.0, 35.0) if ends[0] < p < ends[1]]
        value, _ = quad(lambda s: 1.0 / np.interp(s, [5.0, 35.0], [25.0, 55.0]), *ends, points=places)
        return float(value)

    said = 4.0 * flexibility(between) / flexibility(gauge)
    reading = ShaftReading(
        id="t", shaft_id="one", sample="piece 1", quantity="torque", value=said, free_length_in=between
    )
    shaft = _shaft(torque_deg=4.0, torque_gauge_in=rated)
    both = ShaftTable.from_records([shaft], [*PUBLISHED, reading])
    leaflet = ShaftTable.from_records([shaft], PUBLISHED)
    assert both.twist_rad_per_nm[0] == pytest.approx(leaflet.twist_rad_per_nm[0], rel=1e-9)
    alone = ShaftTable.from_records([_shaft(torque_gauge_in=rated)], [*PUBLISHED, reading])
    assert alone.twist_rad_per_nm[0] == pytest.approx(leaflet.twist_rad_per_nm[0], rel=1e-9)
    assert not any("gauge" in sentence for sentence in alone.assumed(0))


def test_arrow_and_records_give_the_same_numbers() -> None:
    shafts, readings = random_shafts(50, seed=9)
    by_arrow = ShaftTable.from_arrow(shafts, readings)
    by_record = ShaftTable.from_records(
        [Shaft(**row) for row in shafts.to_pylist()],
        [ShaftReading(**{**row, "id": f"r{i}"}) for i, row in enumerate(readings.to_pylist())],
    )
    for name in ("raw_length_m", "mass_kg", "balance_m", "twist_rad_per_nm", "common_sd", "twist_from_m"):
        assert getattr(by_arrow, name) == pytest.approx(getattr(by_record, name)), name
    for row in (0, 17, 49):
        a, b = by_arrow.model(row), by_record.model(row)
        assert a.ei_n_m2 == pytest.approx(b.ei_n_m2)
        assert a.log_ei_cov == pytest.approx(b.log_ei_cov)
