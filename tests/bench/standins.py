"""Benchmark of the place Stand-ins and of the bench: ``python -m tests.bench.standins [SIZE …]``.

From a key that changes a weight or a filter to the repaint of the list with the new ranking, in the whole interface
without a terminal behind it; and from the last digit of a reading to the profile with it, the pause that is waited for
an unfinished number left out.
"""

from __future__ import annotations

import argparse
import asyncio
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyarrow.csv as pacsv
from textual.pilot import Pilot

from specdb.catalogue import Catalogue
from specdb.catalogue.importing import import_file
from specdb.tui.app import SpecdbApp, make_app
from specdb.tui.bench.place import BenchScreen
from specdb.tui.standins.place import StandInsScreen
from tests.bench.references import add_fixed_parts, reference_clubs
from tests.support.random_catalogue import random_shafts

SIZES = (10_000,)
WEIGHTS = ("plus",) * 10 + ("minus",) * 10
FILTERS = ("s", "s", "t", "t", "n", "n") * 3
REST_SECONDS = 0.15


def filled(folder: Path, size: int) -> tuple[Path, str, str]:
    """A catalogue of random shafts; with the key of a club and of a shaft."""
    shafts, readings = random_shafts(size, seed=size)
    path = folder / f"standins-{size}.duckdb"
    add_fixed_parts(path)
    for kind, table in (("shaft", shafts), ("shaft_reading", readings)):
        pacsv.write_csv(table, folder / f"{kind}.csv")
        import_file(Catalogue(path), kind, folder / f"{kind}.csv")
    clubs = reference_clubs(path, shafts)
    return path, clubs[0], str(shafts["id"][size // 2])


async def _until(true: Callable[[], bool]) -> None:
    while not true():
        await asyncio.sleep(0.001)


async def _painted(app: SpecdbApp) -> None:
    done = asyncio.Event()
    app.screen.call_after_refresh(done.set)
    await done.wait()


async def _refreshes(pilot: Pilot[Any], screen: StandInsScreen, keys: tuple[str, ...]) -> list[float]:
    times = []
    for key in keys:
        before = screen._ranked
        start = time.perf_counter()
        pilot.app.simulate_key(key)
        await _until(lambda held=before: screen._ranked is not held)  # type: ignore[misc]
        await _painted(screen.specdb)
        times.append(1000.0 * (time.perf_counter() - start))
        await pilot.pause(REST_SECONDS)
    return times


async def standins(path: Path, club: str, state: Path) -> dict[str, list[float]]:
    """Times of refreshing the ranking, ms."""
    app = make_app(path, state_folder=state, start="standins")
    async with app.run_test(size=(120, 40)) as pilot:
        screen = app.screen
        assert isinstance(screen, StandInsScreen)
        app.open_place("standins", club=club)
        await _until(lambda: screen._ranked is not None)
        await pilot.pause(0.5)
        filters = await _refreshes(pilot, screen, FILTERS)
        await pilot.press("4")
        await pilot.pause(0.5)
        weights = await _refreshes(pilot, screen, WEIGHTS)
    app.close_down()
    return {"filter": filters, "weight": weights}


async def bench(path: Path, shaft: str, state: Path) -> list[float]:
    """Times from a reading to the profile with it, ms."""
    app = make_app(path, state_folder=state, start="bench")
    times = []
    async with app.run_test(size=(120, 40)) as pilot:
        screen = app.screen
        assert isinstance(screen, BenchScreen)
        app.open_place("bench", shaft=shaft)
        await _until(lambda: screen._judged is not None and bool(screen._entries))
        await pilot.pause(0.5)
        for entry in screen._entries[:12]:
            before = screen._judged
            entry.value = "250" if entry.slot.quantity == "frequency" else "45"
            start = time.perf_counter()
            screen._judge()
            await _until(lambda held=before: screen._judged is not held)  # type: ignore[misc]
            await _painted(app)
            times.append(1000.0 * (time.perf_counter() - start))
            await pilot.pause(3 * REST_SECONDS)
    app.close_down()
    return times


def main() -> None:
    """Run the benchmarks."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.standins", description=__doc__)
    parser.add_argument("size", nargs="*", type=int, default=SIZES)
    sizes = parser.parse_args().size
    print("| shafts | filter p50 (worst) | weight p50 (worst) | reading p50 (worst) |\n|---|---|---|---|")
    for size in sizes:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            path, club, shaft = filled(folder, size)
            found = asyncio.run(standins(path, club, folder / "state"))
            found["reading"] = asyncio.run(bench(path, shaft, folder / "state"))
        cells = (f"{statistics.median(t):.0f} ms ({max(t):.0f} ms)" for t in found.values())
        print(f"| {size:,} | {' | '.join(cells)} |")


if __name__ == "__main__":
    main()
