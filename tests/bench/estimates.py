"""Benchmarks of kept estimates: ``python -m tests.bench.estimates [SHAFTS …] [--write]``.

A catalogue of which a third of the shafts has a complete table, a third a few bench frequencies, a third a leaflet
only: learning and estimating everything, redoing one changed shaft, and the queries that then use the estimates.
``--write`` puts the figures in ``tests/bench/ESTIMATES.md``.
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
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

import specdb
from specdb.catalogue import Catalogue
from specdb.profiles.estimate import estimate
from specdb.verbs.matching.substitutes import index_of
from specdb.verbs.stiffness.estimates import cases_of, refresh, usual_shafts
from tests.bench.references import add_fixed_parts, reference_clubs
from tests.support.random_catalogue import random_shafts

SIZES = (1_000, 10_000, 30_000)
RESULTS = Path(__file__).with_name("ESTIMATES.md")
FREE_IN = (40.0, 32.0, 24.0)


def fill(path: Path, size: int) -> tuple[Catalogue, pa.Table]:
    """A catalogue in three states of knowledge, nothing estimated yet; the shafts with tables."""
    shafts, readings = random_shafts(size, seed=size)
    number = np.arange(size)
    tabled = pa.array([shafts["id"][int(i)].as_py() for i in number[number % 3 == 0]])
    kept = readings.filter(pc.is_in(readings["shaft_id"], value_set=tabled))
    rng = np.random.default_rng(size)
    rows = [
        {"shaft_id": f"invented-{i:06d}", "sample": "p1", "quantity": "frequency", "value": float(v), **where}
        for i in number[number % 3 == 1].tolist()
        for free, base in zip(FREE_IN, (250.0, 340.0, 480.0), strict=True)
        for v, where in [(round(base + rng.normal(0, 8), 1), {"free_length_in": free, "tip_mass_g": 200.0})]
    ]
    table = pa.concat_tables([kept, pa.Table.from_pylist(rows, schema=kept.schema)])
    table = table.set_column(0, "id", pa.array([f"r{i}" for i in range(table.num_rows)]))
    add_fixed_parts(path)
    catalogue = specdb.open(path)
    plain = Catalogue(path)
    with plain.write(by="bench") as writer:
        writer.put_many("shaft", shafts)
        writer.put_many("shaft_reading", table)
    return catalogue, shafts.filter(pc.is_in(shafts["id"], value_set=tabled))


def bench(size: int, folder: Path) -> dict[str, Any]:
    """All figures of one size."""
    path = folder / "bench.duckdb"
    catalogue, tabled = fill(path, size)
    start = time.perf_counter()
    done = refresh(catalogue)
    whole = time.perf_counter() - start
    with catalogue.read() as reader:
        population = usual_shafts(reader)
        cases = cases_of(reader, ["invented-000001", "invented-000002"])
    single = []
    for _ in range(30):
        start = time.perf_counter()
        estimate(cases[0], population)
        single.append(time.perf_counter() - start)
    start = time.perf_counter()
    specdb.set_fields(catalogue, "shaft", "invented-000002", ["weight_g=61.5"])
    change = time.perf_counter() - start
    clubs = reference_clubs(path, tabled)
    with catalogue.read() as reader:
        start = time.perf_counter()
        index = index_of(reader)
        indexed = time.perf_counter() - start
    warm = []
    for club in clubs:
        for _ in range(2):
            answer = specdb.substitutes_of(catalogue, specdb.ClubRequest(club=club), index=index)
        warm.append(answer.report.elapsed_ms)
    command = [sys.executable, "-m", "specdb", "substitutes", "--club", clubs[0], "--json", "--catalogue", str(path)]
    cold = []
    for _ in range(3):
        start = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        cold.append(time.perf_counter() - start)
    return {
        "shafts": size,
        "estimated": done.estimated,
        "whole_s": whole,
        "single_ms": 1e3 * statistics.median(single),
        "change_s": change,
        "index_ms": 1e3 * indexed,
        "warm_ms": statistics.median(warm),
        "warm_worst_ms": max(warm),
        "cold_s": statistics.median(cold),
    }


def main() -> None:
    """Run the benchmarks."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.estimates", description=__doc__)
    parser.add_argument("size", nargs="*", type=int)
    parser.add_argument("--write", action="store_true", help="write the table to ESTIMATES.md")
    options = parser.parse_args()
    load = os.getloadavg()[0]
    rows = []
    for size in options.size or SIZES:
        with tempfile.TemporaryDirectory() as folder:
            rows.append(bench(size, Path(folder)))
            print(rows[-1], flush=True)
    head = (
        "| shafts | of them estimated | learning and estimating all | one shaft alone | one change through the "
        "catalogue | index | warm query p50 (worst) | cold start to answer |\n|---|---|---|---|---|---|---|---|\n"
    )
    body = "".join(
        f"| {r['shafts']:,} | {r['estimated']:,} | {r['whole_s']:.1f} s | {r['single_ms']:.1f} ms | "
        f"{r['change_s']:.2f} s | {r['index_ms']:.0f} ms | {r['warm_ms']:.0f} ms ({r['warm_worst_ms']:.0f} ms) | "
        f"{r['cold_s']:.2f} s |\n"
        for r in rows
    )
    print(head + body)
    if options.write:
        machine = f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}"
        RESULTS.write_text(
            "# Kept estimates, measured\n\nMade by `python -m tests.bench.estimates --write`; invented random shafts, "
            "a third with tables, a third with three bench frequencies, a third with a leaflet only.\n"
            "Frequencies are drawn each by itself, so that some contradict the others: where the shaft told alone is "
            "such a one, it is fitted\ntwice over; one whose readings agree takes about 3 ms.\n"
            f"Machine: {machine}; load when it began: {load:.1f}.\n\n{head}{body}",
            encoding="utf-8",
        )


if __name__ == "__main__":
    main()
