"""Benchmark of what is short and often done: ``python -m tests.bench.short [--write]``.

Help and completion of the command in processes of their own, lists and shortages of three hundred orders, the estimate
of one shaft, a shortlist solved with its uncertainties, keys of a big file of readings. ``--write`` keeps the table in
``tests/bench/SHORT.md``.
"""

from __future__ import annotations

import argparse
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyarrow as pa

from specdb.catalogue.keys import derive_keys, number_repeats
from specdb.mechanics.club import installed
from specdb.mechanics.constants import IN
from specdb.profiles.estimate import estimate
from specdb.verbs.orders.orders import orders_of
from specdb.verbs.reports.reports import shortage_report
from tests.orders.large import fill_large
from tests.profiles.figures import cases_of
from tests.profiles.reliability import taught_by_makers
from tests.profiles.truth import frequencies, true_shafts
from tests.support.shafts import D2_KG_M, driver_build, wood_shaft

RESULTS = Path(__file__).with_name("SHORT.md")


def timed(job: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Median and worst time of a job in seconds."""
    took = []
    for _ in range(repeats):
        began = time.perf_counter()
        job()
        took.append(time.perf_counter() - began)
    return statistics.median(took), max(took)


def commands(folder: Path) -> dict[str, tuple[float, float]]:
    """The command in a process of its own, files in the page cache."""
    catalogue = folder / "demo.duckdb"
    made = [sys.executable, "-m", "specdb", "demo", "--catalogue", str(catalogue)]
    subprocess.run(made, check=True, capture_output=True)
    typed = {
        "COMP_WORDS": "specdb show shaft ",
        "COMP_CWORD": "3",
        "_SPECDB_COMPLETE": "bash_complete",
        "SPECDB_CATALOGUE": str(catalogue),
    }

    def run(*words: str, **environment: str) -> None:
        command = [sys.executable, "-m", "specdb", *words]
        subprocess.run(command, check=True, capture_output=True, env={**os.environ, **environment})

    return {
        "`specdb --help`": timed(lambda: run("--help"), 9),
        "ids offered by completion": timed(lambda: run(**typed), 9),
    }


def orders(folder: Path) -> dict[str, tuple[float, float]]:
    """300 orders of 900 clubs, 2,000 shafts on the shelf, 10,000 in the catalogue."""
    shop = fill_large(folder / "orders.duckdb")
    return {
        "300 orders with what each waits for": timed(lambda: orders_of(shop), 5),
        "shortages of 300 orders": timed(lambda: shortage_report(shop), 5),
    }


def numbers() -> dict[str, tuple[float, float]]:
    """Computation in one process."""
    own = taught_by_makers("ABC")
    truths = true_shafts(20, 19)
    cases = iter(cases_of(truths, frequencies(truths, np.random.default_rng(9), 0.005)) * 2)
    rng = np.random.default_rng(22)
    models, trims = [wood_shaft(rng) for _ in range(200)], rng.uniform(0.0, 1.5, 200) * IN
    build = driver_build(target_moment_kg_m=D2_KG_M)
    count = 400_000
    readings = pa.table(
        {
            "shaft_id": [f"s{n // 16}" for n in range(count)],
            "sample": ["published"] * count,
            "quantity": ["ei"] * count,
            "position_in": [float(n % 16) for n in range(count)],
        }
    )
    return {
        "estimate of one shaft, seven frequencies": timed(lambda: estimate(next(cases), own), 40),
        "200 variants solved with uncertainty": timed(lambda: installed(models, trims, build), 15),
        "keys of 400,000 readings": timed(lambda: number_repeats(derive_keys("shaft_reading", readings)), 3),
    }


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.short", description=__doc__)
    parser.add_argument("--write", action="store_true", help="write the table to SHORT.md")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        rows = {**commands(Path(folder)), **orders(Path(folder)), **numbers()}
    table = "| what | median | worst |\n|---|---|---|\n" + "".join(
        f"| {what} | {1e3 * median:.3g} ms | {1e3 * worst:.3g} ms |\n" for what, (median, worst) in rows.items()
    )
    print(table)
    if options.write:
        machine = f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}"
        RESULTS.write_text(
            "# What is short and often done, measured\n\nMade by `python -m tests.bench.short --write`. Asked for: one "
            f"shaft estimated in 5 ms; the rest has no target.\nMachine: {machine}.\n\n{table}",
            encoding="utf-8",
        )


if __name__ == "__main__":
    main()
