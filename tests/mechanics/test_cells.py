"""Cell means of 1/EI against numerical quadrature.

Reference: scipy.integrate.quad with the kinks given as break points.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from specdb.mechanics.cells import CELL_M, cell_means
from specdb.mechanics.stations import Stations


def _stations(*shafts: tuple[list[float], list[float]]) -> Stations:
    """Stations of shafts, places in cells."""
    offset = np.concatenate([[0], np.cumsum([len(p) for p, _ in shafts])]).astype(np.int64)
    place = np.concatenate([np.asarray(p, dtype=float) for p, _ in shafts]) * CELL_M
    ei = np.concatenate([np.asarray(e, dtype=float) for _, e in shafts])
    return Stations(offset, place, ei, np.zeros(len(ei)))


def _reference(stations: Stations, row: int, cell: int) -> float:
    place, ei, _ = stations.of(row)
    low, high = cell * CELL_M, (cell + 1) * CELL_M
    kinks = [float(p) for p in place if low < p < high]
    points = [low, *kinks, high]
    total = sum(
        quad(lambda s: 1.0 / np.interp(s, place, ei), a, b, epsabs=0, epsrel=1e-12)[0] for a, b in pairwise(points)
    )
    return float(total / CELL_M)


CASES = {
    "kink inside a cell": ([2.0, 5.3, 9.0], [20.0, 40.0, 41.0]),
    "stations on edges": ([0.0, 4.0, 8.0], [20.0, 30.0, 60.0]),
    "two kinks in one cell, a step-down": ([1.0, 5.2, 5.4, 9.0], [60.0, 60.0, 45.0, 45.0]),
    "one station": ([3.3], [25.0]),
    "first station behind the first cells": ([6.5, 8.0], [25.0, 31.0]),
    "equal neighbours": ([1.5, 3.5, 7.5], [30.0, 30.0, 30.0]),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_cell_means_equal_quadrature(case: tuple[list[float], list[float]]) -> None:
    stations = _stations(([1.0, 11.0], [10.0, 99.0]), case, ([4.0, 4.5], [80.0, 20.0]))
    table = cell_means(stations, 12)
    for row in range(3):
        expected = [_reference(stations, row, cell) for cell in range(12)]
        assert table.mean[row] == pytest.approx(expected, rel=2e-6)  # float32


def test_random_shafts_equal_quadrature_over_chunk_borders() -> None:
    rng = np.random.default_rng(5)
    shafts = []
    for _ in range(5000):
        n = int(rng.integers(1, 7))
        place = np.sort(rng.choice(np.arange(0, 48), n, replace=False)) / 4.0 + 0.03
        shafts.append((list(place), list(rng.uniform(10, 90, n))))
    stations = _stations(*shafts)
    table = cell_means(stations, 12)
    for row in rng.choice(5000, 60, replace=False):
        expected = [_reference(stations, int(row), cell) for cell in range(12)]
        assert table.mean[row] == pytest.approx(expected, rel=2e-6)


def test_rows_without_stations_are_zero() -> None:
    stations = Stations(np.array([0, 0, 1, 1]), np.array([0.1]), np.array([20.0]), np.zeros(1))
    table = cell_means(stations, 4)
    assert not table.mean[0].any()
    assert not table.mean[2].any()
    assert table.mean[1] == pytest.approx([0.05] * 4)
