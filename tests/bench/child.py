"""One measurement in a process of its own, so that its peak memory is its own; prints a line of JSON."""

from __future__ import annotations

import json
import resource
import statistics
import sys
import time
from pathlib import Path
from typing import Any

WARM_UP = 2


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def measure_import(catalogue: str, *files: str) -> dict[str, Any]:
    """Import a shaft file and a reading file."""
    from specdb.catalogue import Catalogue
    from specdb.catalogue.importing import import_file

    start = time.perf_counter()
    held = Catalogue(Path(catalogue))
    for kind, file in zip(("shaft", "shaft_reading"), files, strict=True):
        report = import_file(held, kind, Path(file))
        if report.rejected:
            raise RuntimeError(str(report.rejected[:3]))
    return {"seconds": time.perf_counter() - start, "peak_mb": _peak_mb()}


def measure_warm(catalogue: str, *clubs: str) -> dict[str, Any]:
    """Ask for stand-ins of every club with the index in memory."""
    from specdb.catalogue import Catalogue
    from specdb.matching import find_substitutes
    from specdb.matching.question import SubstituteQuestion
    from specdb.verbs.clubs.clubs import ClubRequest, find_club
    from specdb.verbs.clubs.fitup import shelf_of
    from specdb.verbs.matching.substitutes import index_of

    with Catalogue(Path(catalogue)).read() as reader:
        start = time.perf_counter()
        index = index_of(reader)
        built = time.perf_counter() - start
        shelf = shelf_of(reader)
        questions = [
            SubstituteQuestion(club=find_club(reader, ClubRequest(club=name)).parts(), shelf=shelf) for name in clubs
        ]
    for question in questions[:WARM_UP]:
        find_substitutes(index, question)
    times = []
    for question in questions:
        start = time.perf_counter()
        find_substitutes(index, question)
        times.append(1000.0 * (time.perf_counter() - start))
    return {
        "index_ms": 1000.0 * built,
        "p50_ms": statistics.median(times),
        "worst_ms": max(times),
        "peak_mb": _peak_mb(),
    }


def main() -> None:
    """Run the measurement that the first argument names."""
    what = {"import": measure_import, "warm": measure_warm}[sys.argv[1]]
    print(json.dumps(what(*sys.argv[2:])))


if __name__ == "__main__":
    main()
