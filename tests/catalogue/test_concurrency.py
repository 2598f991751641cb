"""Several programs at one catalogue."""

import statistics
import sys

import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.integrity import check_catalogue
from tests.catalogue.processes import start
from tests.catalogue.workers import PAIR

WORKERS = 4
WRITES = 20


@pytest.mark.slow
def test_four_processes_lose_nothing_and_see_nothing_by_halves(shop: Catalogue) -> None:
    running = [start("mixed", shop.path, worker, WRITES) for worker in range(WORKERS)]
    waits, written, counts = [], set(), []
    for worker, process in enumerate(running):
        out, err = process.communicate(timeout=120)
        assert (process.returncode, err) == (0, "")
        for line in out.splitlines():
            what, number, seconds = line.split()
            waits.append(float(seconds))
            if what == "wrote":
                written |= {f"w{worker}-{number}-{part}" for part in range(PAIR)}
            else:
                counts.append(int(number))
    assert len(written) == WORKERS * WRITES * PAIR
    with shop.read() as r:
        assert {s.id for s in r.rows("shaft")} == written | {"trine"}
        assert r.last_change() == 1 + WORKERS * WRITES
    assert all(count % PAIR == 1 for count in counts)  # 'trine' and whole pairs
    assert check_catalogue(shop.path) == []
    p50, p99 = statistics.median(waits), statistics.quantiles(waits, n=100)[98]
    print(
        f"\n{len(waits)} turns of {WORKERS} processes: p50 {p50 * 1000:.0f} ms, p99 {p99 * 1000:.0f} ms, "
        f"longest {max(waits) * 1000:.0f} ms",
        file=sys.__stderr__,
    )
    assert p99 < 5  # no one starves; the usual is 0.2 to 0.5 s on two cores
