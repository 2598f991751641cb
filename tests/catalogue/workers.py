"""What other processes do in the tests of concurrency, crashes and full disks; run as a script.

Everything that was kept is reported on standard output, one line each, only after the change ended well.
"""

import random
import resource
import signal
import sys
import time
from collections.abc import Callable

import pyarrow as pa

from specdb.catalogue import Catalogue
from specdb.errors import CatalogueFullError

PAIR = 2


def pair(worker: str, number: int) -> pa.Table:
    """Two shafts that are only ever written together."""
    ids = [f"w{worker}-{number}-{part}" for part in range(PAIR)]
    return pa.table({"id": ids, "club_type": ["wood"] * PAIR, "weight_g": [60.0] * PAIR})


def mixed(path: str, worker: str, writes: str) -> None:
    """Write and read in turns, and say how long each took."""
    dice = random.Random(int(worker))
    catalogue = Catalogue(path)
    left = int(writes)
    number = 0
    while left:
        began = time.perf_counter()
        if dice.random() < 0.4:
            number += 1
            left -= 1
            with catalogue.write(by=worker) as w:
                w.put_many("shaft", pair(worker, number))
            print("wrote", number, time.perf_counter() - began, flush=True)
        else:
            with catalogue.read() as r:
                count = r.count("shaft")
            print("read", count, time.perf_counter() - began, flush=True)


def endless(path: str, worker: str, rows: str) -> None:
    """Write until killed; changes of every size, so that the kill meets every phase."""
    catalogue = Catalogue(path)
    dice = random.Random(worker)
    number = 0
    print("ready", flush=True)
    while True:
        number += 1
        count = dice.choice((1, 20, int(rows)))
        ids = [f"w{worker}-{number}-{n}" for n in range(count)]
        notes = [f"{n} of {count}" for n in range(count)]
        with catalogue.write(by=worker) as w:
            w.put_many("shaft", pa.table({"id": ids, "club_type": ["wood"] * count, "notes": notes}))
        print("wrote", number, count, flush=True)


def until_full(path: str, limit: str) -> None:
    """Write until there is no more room; with a limit, the file may not grow beyond it (bytes)."""
    if int(limit):
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(limit), int(limit)))
    catalogue = Catalogue(path)
    dice = random.Random(1)
    for number in range(1, 1000):
        ids = [f"w-{number}-{n}" for n in range(500)]
        notes = [dice.randbytes(500).hex() for _ in ids]
        try:
            with catalogue.write() as w:
                w.put_many("shaft", pa.table({"id": ids, "club_type": ["wood"] * 500, "notes": notes}))
        except CatalogueFullError as error:
            print("full", number, error, flush=True)
            return
        print("wrote", number, 500, flush=True)


if __name__ == "__main__":
    tasks: dict[str, Callable[..., None]] = {"mixed": mixed, "endless": endless, "until_full": until_full}
    tasks[sys.argv[1]](*sys.argv[2:])
