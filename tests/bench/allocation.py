"""Benchmark of the allocation: ``python -m tests.bench.allocation [--write]``.

300 open orders of 900 clubs, 40 sets of seven among them, 2,000 shafts on the shelf, 10,000 in the catalogue; the
search for stand-ins is in the time. Then plans alone, of orders that fight for few parts. ``--write`` puts the figures
in ``tests/bench/ALLOCATION.md``.
"""

from __future__ import annotations

import argparse
import datetime as dt
import math
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
from specdb.orders.allocation import allocate
from specdb.orders.demand import Demand, Group, Option, PlanRules, Standing, Way
from specdb.orders.needs import Need, Part, UnitKey
from specdb.orders.plan import Outcome, Plan
from specdb.orders.shelf import Arrival, Shelf
from specdb.schema import load_schema
from specdb.verbs.orders.allocation import AllocationOptions, plan_orders
from tests.bench.references import add_fixed_parts
from tests.support.random_catalogue import random_shafts

RESULTS = Path(__file__).with_name("ALLOCATION.md")
SHAFTS, ON_SHELF, ORDERS, SINGLES, SETS, IN_A_SET = 10_000, 2_000, 300, 620, 40, 7
TODAY = dt.date(2026, 3, 2)
IRON_LENGTHS = (38.5, 38.0, 37.5, 37.0, 36.5, 36.0, 35.5)


def _put(writer: Any, kind: str, rows: list[dict[str, Any]]) -> None:
    names = list(dict.fromkeys(name for row in rows for name in row))
    writer.put_many(kind, pa.Table.from_pylist(rows, schema=arrow_schema(load_schema().table(kind), names)))


def fill(path: Path, seed: int = 5, *, on_shelf: int = ON_SHELF, iron_heads: int = 45) -> Catalogue:
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
        for _ in range(on_shelf):
            shaft = dice.choice(dice.choice([popular, popular_irons, woods, irons]))
            stock[shaft] = stock.get(shaft, 0) + 1
        for shaft in dice.sample(popular_irons, 25):
            stock[shaft] = stock.get(shaft, 0) + IN_A_SET
        moves = [_move("shaft", s, n) for s, n in sorted(stock.items())]
        moves += [_move("head", "bench-head", 700), _move("grip", "bench-grip", 950)]
        moves += [_move("head", f"iron-{k}", iron_heads) for k in range(IN_A_SET)]
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


def contended(seed: int, *, models: int, pieces: int, scarce_heads: bool) -> tuple[list[Demand], Shelf]:
    """300 orders of 900 clubs that fight for few parts: popular shafts, eight stand-ins each, heads that run out."""
    dice = random.Random(seed)
    place = [[dice.gauss(0, 1) for _ in range(3)] for _ in range(models)]
    near = [sorted((math.dist(a, b), j) for j, b in enumerate(place) if b is not a)[:8] for a in place]
    kinds = frozenset({"shaft", "head"})
    on_hand: dict[Part, int] = {("head", f"h{i}"): dice.randint(6, 16) if scarce_heads else 900 for i in range(60)}
    for _ in range(pieces):
        part = ("shaft", f"s{dice.randrange(models)}")
        on_hand[part] = on_hand.get(part, 0) + 1
    on_hand.update({("shaft", f"m{i}"): dice.randint(0, 18) for i in range(25)})
    on_hand.update({("head", f"iron{k}"): dice.randint(30, 45) for k in range(IN_A_SET)})
    arrivals = {}
    for part in [*on_hand, *(("shaft", f"s{i}") for i in range(models))]:
        if dice.random() < 0.4:
            days = sorted(dice.sample(range(2, 60), dice.choice([1, 1, 2])))
            arrivals[part] = tuple(Arrival(dice.randint(1, 6), TODAY + dt.timedelta(d)) for d in days)
    demands, left = [], SINGLES
    for n in range(ORDERS):
        groups = [_contended_set(dice, f"o-{n}")] if n < SETS else []
        share = left // (ORDERS - n)
        left -= share
        for line in range(2, share + 2):
            fitted = dice.choices(range(models), [1 / (i + 8) for i in range(models)])[0]
            head = Need("head", f"h{dice.randrange(60)}")
            ways = [Way((Option(f"s{fitted}", (Need("shaft", f"s{fitted}"), head)),))]
            for score, j in near[fitted]:
                parts = (Need("shaft", f"s{j}"), head)
                ways.append(Way((Option(f"s{j}", parts, round(score, 3), Standing.PROPOSED),)))
            groups.append(Group((UnitKey(f"o-{n}", line, 1, f"club-{n}-{line}"),), tuple(ways)))
        wanted = TODAY + dt.timedelta(dice.randint(-5, 45)) if dice.random() < 0.85 else None
        demands.append(Demand(f"o-{n}", tuple(groups), wanted))
    return demands, Shelf(on_hand, {}, arrivals, kinds)


def _contended_set(dice: random.Random, order: str) -> Group:
    units = tuple(UnitKey(order, 1, 1, f"{order}-iron-{k}") for k in range(IN_A_SET))
    ways = []
    for number, model in enumerate(dice.sample(range(25), 6)):
        score, standing = (round(dice.uniform(0.5, 3), 3), Standing.PROPOSED) if number else (0.0, Standing.FITTED)
        options = tuple(
            Option(f"m{model}", (Need("shaft", f"m{model}"), Need("head", f"iron{k}")), score, standing)
            for k in range(IN_A_SET)
        )
        ways.append(Way(options, f"m{model}"))
    return Group(units, tuple(ways), f"{order}-irons")


CONTENDED: dict[str, dict[str, Any]] = {
    "300 models, 700 pieces, few heads": {"models": 300, "pieces": 700, "scarce_heads": True},
    "300 models, 450 pieces, few heads": {"models": 300, "pieces": 450, "scarce_heads": True},
    "120 models, 450 pieces, few heads": {"models": 120, "pieces": 450, "scarce_heads": True},
    "300 models, 550 pieces, heads for all": {"models": 300, "pieces": 550, "scarce_heads": False},
}


def _row(name: str, plan: Plan, looked: str, whole: float) -> str:
    aims = " | ".join(f"{aim.value:g} ({aim.gap:.2%})" for aim in plan.aims)
    today = len(plan.of(Outcome.TODAY))
    row = f"| {name} | {looked} | {plan.built} ({today}) | {aims} | {plan.seconds:.1f} s | {whole:.1f} s |"
    print(row, flush=True)
    return row


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.allocation", description=__doc__)
    parser.add_argument("--write", action="store_true", help="write the figures to ALLOCATION.md")
    options = parser.parse_args()
    found = []
    with tempfile.TemporaryDirectory() as folder:
        catalogue = fill(Path(folder) / "bench.duckdb")
        for name, propose in (("approved only", False), ("with proposals", True)):
            start = time.perf_counter()
            answer = plan_orders(catalogue, AllocationOptions(propose=propose, today=TODAY))
            found.append(_row(name, answer.plan, str(answer.looked), time.perf_counter() - start))
            for text in answer.not_compared[:3]:
                print(text)
        scarce = fill(Path(folder) / "scarce.duckdb", on_shelf=600, iron_heads=30)
        start = time.perf_counter()
        answer = plan_orders(scarce, AllocationOptions(today=TODAY))
        name = "with proposals, 600 shafts on the shelf, iron heads for 30 sets"
        found.append(_row(name, answer.plan, str(answer.looked), time.perf_counter() - start))
    for name, how in CONTENDED.items():
        demands, shelf = contended(1, **how)
        plan = allocate(demands, shelf, PlanRules(today=TODAY))
        found.append(_row(name, plan, "", plan.seconds))
    head = (
        "| | stand-ins were looked for in | orders in full (today), of 300 | weight in full (gap) | days late (gap) "
        "| score (gap) | to approve (gap) | planning | all, search included |\n|---|---|---|---|---|---|---|---|---|\n"
    )
    if options.write:
        machine = f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}"
        load = f"load {os.getloadavg()[1]:.1f} over five minutes"
        text = "\n".join(found)
        RESULTS.write_text(
            "# Allocation, measured\n\nMade by `python -m tests.bench.allocation --write`: 300 open orders, 900 clubs, "
            "40 sets. The first three rows are\nof a whole shop with 10,000 shafts in the catalogue and 2,000 on the "
            "shelf (the third: few parts), the others plans\nalone, of orders that fight for few parts.\n"
            f"Machine: {machine}, {load}.\n\n"
            f"{head}{text}\n",
            encoding="utf-8",
        )


if __name__ == "__main__":
    main()
