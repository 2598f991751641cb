"""Writers killed at any moment: what was acknowledged is there, nothing else by halves."""

import itertools
import random
import time
from collections import Counter

import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.integrity import check_catalogue
from tests.catalogue.processes import start
from tests.support.thorough import many

KILLS = many(12, 25)
ROWS = 3000


@pytest.mark.crash
@pytest.mark.slow
def test_kill_at_random_moments(shop: Catalogue) -> None:
    dice = random.Random(20260331)
    acknowledged: dict[tuple[int, int], int] = {}
    unacknowledged, latest_s = 0, 0.6
    # a slow machine gets more rounds and more time, so that enough changes are acknowledged before the kills
    for kill in itertools.count():
        if kill >= KILLS and (len(acknowledged) > KILLS or kill >= 4 * KILLS):
            break
        process = start("endless", shop.path, kill, ROWS)
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        time.sleep(dice.uniform(0.0, latest_s))
        process.kill()
        out, err = process.communicate()
        assert err == ""
        for line in out.splitlines():
            if line.startswith("wrote ") and line.count(" ") == 2:
                number, count = map(int, line.split()[1:])
                acknowledged[kill, number] = count
        if "wrote " not in out:
            latest_s = min(1.2 * latest_s, 10.0)
        present = changes_present(shop)
        unacknowledged = len(present) - len(acknowledged)
        for change, count in acknowledged.items():
            assert present[change] == (count, count)
        # at most one change of each writer was kept without its word getting out, and that one is whole
        assert 0 <= unacknowledged <= kill + 1
        for rows, announced in present.values():
            assert rows == announced
    assert len(acknowledged) > KILLS
    assert check_catalogue(shop.path) == []
    with shop.read() as r:
        assert r.last_change() == 1 + len(acknowledged) + unacknowledged


def changes_present(catalogue: Catalogue) -> dict[tuple[int, int], tuple[int, int]]:
    """By writer and number of its change: rows found, rows that each of them says there are."""
    with catalogue.read() as r:
        rows = r.arrow("shaft", ["id", "notes"], where="id != trine").to_pylist()
    found: Counter[tuple[int, int]] = Counter()
    said: dict[tuple[int, int], int] = {}
    for row in rows:
        worker, number, _ = row["id"][1:].split("-")
        change = int(worker), int(number)
        found[change] += 1
        said[change] = int(row["notes"].split()[-1])
    return {change: (count, said[change]) for change, count in found.items()}
