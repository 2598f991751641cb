"""Benchmarks: ``python -m tests.bench [SIZE …] [--write]``.

For each catalogue size: import from CSV, cold start of ``specdb substitutes`` from the file to the answer (a new
process, files in the page cache), warm query in one process over twenty references, peak memory. Figures depend on the
machine; ``--write`` puts them in ``tests/bench/RESULTS.md``.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import pyarrow.csv as pacsv

from tests.bench.references import add_fixed_parts, reference_clubs
from tests.support.random_catalogue import random_shafts

SIZES = (1_000, 10_000, 100_000)
RESULTS = Path(__file__).with_name("RESULTS.md")


def _child(*arguments: str) -> dict[str, Any]:
    """Run ``python -m tests.bench.child`` and read its JSON."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.child", *arguments], check=True, capture_output=True, text=True
    )
    answer: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return answer


def _cold(catalogue: Path, club: str, repeats: int = 5) -> tuple[float, float]:
    """Median and worst time of the command, s."""
    command = [
        sys.executable,
        "-m",
        "specdb",
        "substitutes",
        "--club",
        club,
        "--json",
        "--catalogue",
        str(catalogue),
    ]
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        done = subprocess.run(command, check=False, capture_output=True)
        times.append(time.perf_counter() - start)
        if done.returncode != 0:
            raise RuntimeError(done.stderr.decode())
    return statistics.median(times), max(times)


def bench(size: int, folder: Path) -> dict[str, Any]:
    """All figures of one size."""
    shafts, readings = random_shafts(size, seed=size)
    shaft_csv, reading_csv = folder / "shaft.csv", folder / "shaft_reading.csv"
    pacsv.write_csv(shafts, shaft_csv)
    pacsv.write_csv(readings, reading_csv)
    catalogue = folder / f"bench-{size}.duckdb"
    add_fixed_parts(catalogue)
    imported = _child("import", str(catalogue), str(shaft_csv), str(reading_csv))
    clubs = reference_clubs(catalogue, shafts)
    warm = _child("warm", str(catalogue), *clubs)
    cold, worst = _cold(catalogue, clubs[0])
    return {
        "shafts": size,
        "import_s": imported["seconds"],
        "import_mb": imported["peak_mb"],
        "file_mb": catalogue.stat().st_size / 1e6,
        "cold_s": cold,
        "cold_worst_s": worst,
        "index_ms": warm["index_ms"],
        "warm_p50_ms": warm["p50_ms"],
        "warm_worst_ms": warm["worst_ms"],
        "peak_mb": warm["peak_mb"],
    }


def _table(rows: list[dict[str, Any]]) -> str:
    head = (
        "| shafts × 9 trims | import | import memory | file | cold start to answer (worst of 5) | index | "
        "warm query p50 | worst of 20 | memory |\n|---|---|---|---|---|---|---|---|---|\n"
    )
    body = "".join(
        f"| {r['shafts']:,} | {r['import_s']:.1f} s | {r['import_mb']:.0f} MB | {r['file_mb']:.0f} MB | "
        f"{r['cold_s']:.2f} s ({r['cold_worst_s']:.2f} s) | {r['index_ms']:.0f} ms | {r['warm_p50_ms']:.0f} ms | "
        f"{r['warm_worst_ms']:.0f} ms | {r['peak_mb']:.0f} MB |\n"
        for r in rows
    )
    return head + body


def main() -> None:
    """Run the benchmarks."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("size", nargs="*", type=int, default=SIZES)
    parser.add_argument("--write", action="store_true", help="write the table to RESULTS.md")
    options = parser.parse_args()
    rows = []
    for size in options.size or SIZES:
        with tempfile.TemporaryDirectory() as folder:
            rows.append(bench(size, Path(folder)))
            print(rows[-1], flush=True)
    text = _table(rows)
    print(text)
    if options.write:
        machine = f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}"
        RESULTS.write_text(
            "# Benchmark results\n\nMade by `python -m tests.bench --write`; invented random shafts with 16 readings "
            f"each.\nMachine: {machine}. Peak memory is that of the whole process.\n\n{text}",
            encoding="utf-8",
        )


if __name__ == "__main__":
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    main()
