"""Benchmark of the allocation: ``python -m tests.bench.allocation [--write]``.

300 open orders of 900 clubs, 40 sets of seven among them, 2,000 shafts on the shelf, 10,000 in the catalogue; the
search for stand-ins is in the time. ``--write`` puts the figures in ``tests/bench/ALLOCATION.md``.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import platform
import random
import tempfile
import time
from pathlib import Path
from typing import Any

import pyarrow as pa

from specdb.catalogue import Catalogue
from specdb.catalogue.tables import arrow_schema
from specdb.schema import load_schema
from specdb.verbs.allocation import plan_orders
from tests.bench.references import add_fixed_parts
from tests.support.random_catalogue import random_shafts

RESULTS = Path(__file__).with_name("ALLOCATION.md")
SHAFTS, ON_SHELF, ORDERS, SINGLES, SETS, IN_A_SET = 10_000, 2_000, 300, 620, 40, 7
TODAY = dt.date(2026, 3, 2)
IRON_LENGTHS = (38.5, 38.0, 37.5, 37.0, 36.5, 36.0, 35.5)


def _put(writer: Any, kind: str, rows: list[dict[str, Any]]) -> None:
    names = list(dict.fromkeys(name for row in rows for name in row))
    writer.put_many(kind, pa.Table.from_pylist(rows, schema=arrow_schema(load_schema().table(kind), names)))


def fill(path: Path, seed: int = 5) -> Catalogue:
    """Make the shop."""
    dice = random.Random(seed)
    add_fixed_parts(path)
    catalogue = Catalogue(path)
    shafts, readings = random_shafts(SHAFTS, seed=seed)
    rows = shafts.select(["id", "club_type"]).to_pylist()
    woods = [r["id"] for r in rows if r["club_type"] == "wood"]
    irons = [r["id"] for r in rows if r["club_type"] == "iron"]
    popular, popular_irons = dice.sample(woods, 600), dice.sample(irons, 120)
    with catalogue.write(by="bench") as writer:
        writer.put_many("shaft", shafts)
        ids = pa.array([f"r{i}" for i in range(readings.num_rows)])
        writer.put_many("shaft_reading", readings.set_column(0, "id", ids))
        heads = [
            {
                "id": f"iron-{n}", "club_type": "iron", "hand": "right", "number": str(n + 4),
                "weight_g": 240.0 + 7 * n,
                "bore_dia_in": 0.373, "bore_form": "parallel", "bore_depth_in": 1.25, "bore_to_ground_in": 1.25,
                "cg_below_mouth_in": 1.1, "hosel_outer_dia_in": 0.53, "loft_deg": 24.0 + 4 * n,
            }
            for n in range(IN_A_SET)
        ]  # fmt: skip
        _put(writer, "head", heads)
        clubs: list[dict[str, Any]] = [
            {
                "id": f"club-{n}", "head_id": "bench-head", "grip_id": "bench-grip", "shaft_id": dice.choice(popular),
                "tip_trim_in": dice.choice([0.0, 0.5, 1.0]), "playing_length_in": dice.choice([44.5, 44.75]),
                "swingweight": "D2",
            }
            for n in range(SINGLES)
        ]  # fmt: skip
        for number in range(SETS):
            shaft = dice.choice(popular_irons)
            clubs += [
                {
                    "id": f"set-{number}-{k}", "set_id": f"set-{number}", "head_id": f"iron-{k}",
                    "grip_id": "bench-grip",
                    "shaft_id": shaft, "tip_trim_in": 0.25 * k, "playing_length_in": IRON_LENGTHS[k],
                    "swingweight": "D2",
                }
                for k in range(IN_A_SET)
            ]  # fmt: skip
        _put(writer, "club", clubs)
        stock: dict[str, int] = {}
        for _ in range(ON_SHELF):
            shaft = dice.choice(dice.choice([popular, popular_irons, woods, irons]))
            stock[shaft] = stock.get(shaft, 0) + 1
        for shaft in dice.sample(popular_irons, 25):
            stock[shaft] = stock.get(shaft, 0) + IN_A_SET
        moves = [_move("shaft", s, n) for s, n in sorted(stock.items())]
        moves += [_move("head", "bench-head", 700), _move("grip", "bench-grip", 950)]
        moves += [_move("head", f"iron-{k}", 45) for k in range(IN_A_SET)]
        _put(writer, "stock_move", moves)
        supply = [
            {
                "kind": "shaft", "item_id": s, "ordered": dice.randint(1, 8), "supplier": "bench",
                "expected_on": TODAY + dt.timedelta(days=dice.choice([7, 14, 21, 35])), "asked_on": TODAY,
                "id": f"supply-{i}",
            }
            for i, s in enumerate(dice.sample(popular + popular_irons, 250))
        ]  # fmt: skip
        _put(writer, "supply", supply)
        lines, left = [], [f"club-{n}" for n in range(SINGLES)]
        dice.shuffle(left)
        for number in range(ORDERS):
            own = [{"set_id": f"set-{number}"}] if number < SETS else []
            share = len(left) // (ORDERS - number)
            own += [{"club_id": left.pop()} for _ in range(share)]
            lines += [{"order_id": f"o-{number}", "line": i, "quantity": 1, **o} for i, o in enumerate(own, start=1)]
        orders = [
            {"id": f"o-{n}", "state": "open", "wanted_on": TODAY + dt.timedelta(days=dice.randint(1, 40))}
            for n in range(ORDERS)
        ]
        _put(writer, "order", orders)
        _put(writer, "order_line", lines)
    return catalogue


def _move(kind: str, item: str, pieces: int) -> dict[str, Any]:
    row = {"kind": kind, "item_id": item, "quantity": pieces, "reason": "received", "on": TODAY}
    return {"id": f"{kind}-{item}", **row}


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.allocation", description=__doc__)
    parser.add_argument("--write", action="store_true", help="write the figures to ALLOCATION.md")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        catalogue = fill(Path(folder) / "bench.duckdb")
        found = []
        for propose in (False, True):
            start = time.perf_counter()
            answer = plan_orders(catalogue, propose=propose, today=TODAY)
            whole = time.perf_counter() - start
            plan = answer.plan
            today = sum(p.day == TODAY for p in plan.orders)
            row = (
                f"| {'with proposals' if propose else 'approved only'} | {answer.proposed} | {plan.built} ({today}) | "
                f"{plan.built_gap:.2%} | {plan.gap:.2%} | {plan.seconds:.1f} s | {whole:.1f} s |"
            )
            print(row, flush=True)
            found.append(row)
            for text in answer.not_compared[:3]:
                print(text)
    head = (
        "| | places stand-ins were looked for | orders in full (today), of 300 | gap, orders | gap, cost | "
        "both programmes | all, search included |\n|---|---|---|---|---|---|---|\n"
    )
    if options.write:
        machine = f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}"
        text = "\n".join(found)
        RESULTS.write_text(
            "# Allocation, measured\n\nMade by `python -m tests.bench.allocation --write`: 300 open orders, 900 clubs, "
            f"40 sets, 2,000 shafts on the shelf, 10,000 in the catalogue.\nMachine: {machine}.\n\n{head}{text}\n",
            encoding="utf-8",
        )


if __name__ == "__main__":
    main()
