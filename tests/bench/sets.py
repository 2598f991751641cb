"""Benchmark of stand-ins for sets and heads: ``python -m tests.bench.sets [SHAFTS …] [--write]``.

Sets of seven irons, fitted with random shafts cut in half-inch steps, in a catalogue of which a tenth is sold by club
number: the search with the index in memory, and the command from its start to the answer. ``--write`` puts the figures
in ``tests/bench/SETS.md``.
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
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from specdb.catalogue import Catalogue
from specdb.verbs.matching.heads import heads_of
from specdb.verbs.matching.substitutes import SearchOptions, index_of
from specdb.verbs.sets.substitutes import read_set_search
from tests.support.random_sets import GRIP, NUMBERS, iron_head, length_in, set_shafts

SIZES = (10_000,)
SETS = 8
MODEL_SIZE = 9  # shafts of a model by number
HEADS = 40  # further models of heads
RESULTS = Path(__file__).with_name("SETS.md")


def filled(path: Path, size: int) -> list[str]:
    """A catalogue with fitted sets; their names."""
    models = size // 10 // MODEL_SIZE
    shafts, readings = set_shafts(size - models * MODEL_SIZE, seed=size, models=models)
    catalogue = Catalogue.create(path)
    rng = np.random.default_rng(size)
    with catalogue.write(done="benchmark") as writer:
        writer.put_many("shaft", shafts)
        writer.put_many("shaft_reading", readings)
        writer.put("grip", asdict(GRIP))
        for n in range(len(NUMBERS)):
            writer.put("head", asdict(iron_head(n)))
            for k in range(HEADS):
                loft, weight = 22.0 + 4.0 * n + rng.normal(0, 1.5), 251.0 + 7.0 * n + rng.normal(0, 4.0)
                other = iron_head(
                    n,
                    id=f"other-{k}-{NUMBERS[n].lower()}",
                    model=f"Other {k}",
                    loft_deg=round(loft, 1),
                    weight_g=weight,
                )
                writer.put("head", asdict(other))
        irons = [r["id"] for r in shafts.to_pylist() if r["club_type"] == "iron" and not r["club_number"]]
        names = []
        for number, shaft in enumerate(rng.choice(irons, SETS, replace=False)):
            names.append(f"set-{number}")
            first = float(rng.choice([0.0, 0.25, 0.5, 1.0]))
            for n, word in enumerate(NUMBERS):
                writer.put(
                    "club",
                    {
                        "id": f"set-{number}-{word.lower()}",
                        "set_id": f"set-{number}",
                        "head_id": f"head-{word.lower()}",
                        "grip_id": "grip",
                        "shaft_id": str(shaft),
                        "tip_trim_in": first + 0.5 * n,
                        "playing_length_in": length_in(n),
                        "swingweight": "D2",
                    },
                )
    return names


def bench(size: int, folder: Path) -> dict[str, Any]:
    """All figures of one size."""
    path = folder / "sets.duckdb"
    names = filled(path, size)
    catalogue = Catalogue(path)
    with catalogue.read() as reader:
        start = time.perf_counter()
        index = index_of(reader)
        indexed = time.perf_counter() - start
        inputs = [read_set_search(reader, name) for name in names]
    start = time.perf_counter()
    models = inputs[0].models(index)
    sorted_out = time.perf_counter() - start
    options = SearchOptions(top=10)
    inputs[0].search(index, options, models)
    warm = []
    for one in inputs:
        start = time.perf_counter()
        one.search(index, options, models)
        warm.append(time.perf_counter() - start)
    start = time.perf_counter()
    heads_of(catalogue, club=f"{names[0]}-7")
    heads = time.perf_counter() - start
    command = [sys.executable, "-m", "specdb", "substitutes", "--set", names[0], "--json", "--catalogue", str(path)]
    cold = []
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        cold.append(time.perf_counter() - start)
    return {
        "shafts": size,
        "index_ms": 1e3 * indexed,
        "models_ms": 1e3 * sorted_out,
        "warm_ms": 1e3 * statistics.median(warm),
        "warm_worst_ms": 1e3 * max(warm),
        "cold_s": statistics.median(cold),
        "cold_worst_s": max(cold),
        "heads_ms": 1e3 * heads,
    }


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.sets", description=__doc__)
    parser.add_argument("size", nargs="*", type=int)
    parser.add_argument("--write", action="store_true", help="write the table to SETS.md")
    options = parser.parse_args()
    rows = []
    for size in options.size or SIZES:
        with tempfile.TemporaryDirectory() as folder:
            rows.append(bench(size, Path(folder)))
            print(rows[-1], flush=True)
    head = (
        "| shafts | index | models | warm search of a set p50 (worst of 8) | the command, cold, p50 (worst of 5) | "
        "heads for one club |\n|---|---|---|---|---|---|\n"
    )
    body = "".join(
        f"| {r['shafts']:,} | {r['index_ms']:.0f} ms | {r['models_ms']:.0f} ms | {r['warm_ms']:.0f} ms "
        f"({r['warm_worst_ms']:.0f} ms) | {r['cold_s']:.2f} s ({r['cold_worst_s']:.2f} s) | {r['heads_ms']:.0f} ms |\n"
        for r in rows
    )
    print(head + body)
    if options.write:
        machine = f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}"
        RESULTS.write_text(
            "# Stand-ins for sets and heads, measured\n\nMade by `python -m tests.bench.sets --write`; sets of seven "
            "irons, invented random shafts, a tenth of them by club number, 287 heads; target: under 2 s over 10,000 "
            f"shafts.\nMachine: {machine}.\n\n{head}{body}",
            encoding="utf-8",
        )


if __name__ == "__main__":
    main()
