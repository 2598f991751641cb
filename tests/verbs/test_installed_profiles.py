"""Installed stiffness with its doubt: the same shaft as the mechanics compute with."""

from pathlib import Path

import numpy as np
import pytest

from specdb.catalogue import Catalogue
from specdb.errors import NotFoundError
from specdb.matching.index import MatchIndex
from specdb.verbs.clubs.clubs import ClubRequest
from specdb.verbs.matching.substitutes import SearchOptions, SubstitutesAnswer, index_of, substitutes_of
from specdb.verbs.stiffness.installed_profiles import installed_profile, installed_profiles
from tests.cli.shop import fill


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> tuple[SubstitutesAnswer, MatchIndex]:
    catalogue: Catalogue = fill(Path(tmp_path_factory.mktemp("shop")) / "shop.duckdb")
    with catalogue.read() as reader:
        index = index_of(reader)
    return substitutes_of(catalogue, ClubRequest(club="fit-driver"), SearchOptions(top=3), index=index), index


def test_thirds_of_the_curves_are_the_compared_stiffnesses(asked: tuple[SubstitutesAnswer, MatchIndex]) -> None:
    answer, index = asked
    for found in answer.report.results:
        pair = installed_profiles(answer, found, index)
        for shown, side in ((pair.fitted, "reference"), (pair.stand_in, "candidate")):
            fine = np.linspace(0.0, shown.from_hosel_in[-1], 3001)
            flexible = np.interp(fine, shown.from_hosel_in, 1.0 / shown.ei_n_m2)
            thirds = 1.0 / np.array([part.mean() for part in np.array_split(flexible, 3)])
            keys = ("tip_ei_n_m2", "mid_ei_n_m2", "butt_ei_n_m2")
            compared = [getattr(next(f for f in found.features if f.key == k), side) for k in keys]
            assert thirds == pytest.approx(compared, rel=2e-3)


def test_a_station_has_its_own_figure_and_doubt(asked: tuple[SubstitutesAnswer, MatchIndex]) -> None:
    _, index = asked
    model = index.table.model(index.row_of("reed-60-s"))
    whole = installed_profile(model, "reed-60-s", tip_trim_in=0.0, insertion_in=1.0, exposed_in=40.0)
    at = 10.0  # 11 in from the raw tip: a station of the table
    k = int(np.argmin(abs(whole.from_hosel_in - at)))
    assert whole.from_hosel_in[k] == pytest.approx(at)
    station = int(np.argmin(abs(model.station_m - 11.0 * 0.0254)))
    assert whole.ei_n_m2[k] == pytest.approx(25.0)  # as published in the table
    assert whole.sd_n_m2[k] == pytest.approx(25.0 * np.sqrt(model.log_ei_cov[station, station]))
    assert whole.known_in == pytest.approx((5.0, 40.0))


def test_trimming_the_tip_moves_the_curve_towards_the_hosel(asked: tuple[SubstitutesAnswer, MatchIndex]) -> None:
    _, index = asked
    model = index.table.model(index.row_of("reed-60-s"))
    plain = installed_profile(model, "x", tip_trim_in=0.0, insertion_in=1.0, exposed_in=40.0)
    cut = installed_profile(model, "x", tip_trim_in=2.0, insertion_in=1.0, exposed_in=40.0)
    assert cut.ei_n_m2[:-4] == pytest.approx(plain.ei_n_m2[4:])  # 2 in are four places of half an inch


def test_difference_is_in_percent_of_the_fitted_with_the_doubt_of_both(
    asked: tuple[SubstitutesAnswer, MatchIndex],
) -> None:
    answer, index = asked
    pair = installed_profiles(answer, answer.report.results[0], index)
    difference, sd = pair.difference_pct
    assert pair.fitted.ei_n_m2 * (1.0 + difference / 100.0) == pytest.approx(pair.stand_in.ei_n_m2)
    assert np.all(sd > 100.0 * pair.stand_in.sd_n_m2 / pair.fitted.ei_n_m2)


def test_a_stand_in_that_the_index_lacks_is_said(asked: tuple[SubstitutesAnswer, MatchIndex]) -> None:
    from dataclasses import replace

    answer, index = asked
    with pytest.raises(NotFoundError):
        installed_profiles(answer, replace(answer.report.results[0], shaft_id="gone"), index)
