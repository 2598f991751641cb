"""A shop with many open orders, drawn at random: 300 orders of 900 clubs with 40 sets, 2,000 shafts on the shelf."""

from __future__ import annotations

import datetime as dt
import random
from pathlib import Path
from typing import Any

import pyarrow as pa

from specdb.catalogue import Catalogue
from specdb.catalogue.tables import arrow_schema
from specdb.schema import load_schema
from tests.support.random_catalogue import random_shafts

ORDERS, SETS, IN_A_SET, CLUBS = 300, 40, 7, 900
FIRST_DAY = dt.date(2031, 3, 3)


def _put(w: Any, kind: str, rows: list[dict[str, Any]]) -> None:
    names = list(dict.fromkeys(name for row in rows for name in row))
    table = pa.Table.from_pylist(rows, schema=arrow_schema(load_schema().table(kind), names))
    w.put_many(kind, table)


def fill_large(path: Path, *, shafts: int = 10_000, on_shelf: int = 2_000, seed: int = 3) -> Catalogue:
    """Make the shop.

    Parameters
    ----------
    path : Path
        The file.
    shafts, on_shelf : int
        Shafts in the catalogue, and pieces of them on the shelf.
    seed : int
        Seed of the random numbers.
    """
    dice = random.Random(seed)
    catalogue = Catalogue.create(path)
    table, _ = random_shafts(shafts, seed=seed)
    ids: list[str] = table.column("id").to_pylist()
    heads = [f"head-{n}" for n in range(120)]
    grips = [f"grip-{n}" for n in range(25)]
    singles = CLUBS - SETS * IN_A_SET
    with catalogue.write(by="tests") as w:
        w.put_many("shaft", table)
        _put(w, "head", [{"id": h, "club_type": "iron", "hand": "right"} for h in heads])
        _put(w, "grip", [{"id": g} for g in grips])
        _put(w, "ferrule", [{"id": f"ferrule-{n}", "inner_dia_in": 0.372, "outer_dia_in": 0.5} for n in range(10)])
        clubs = [_club(f"club-{n}", None, dice, ids, heads, grips) for n in range(singles)]
        for group in range(SETS):
            shaft = dice.choice(ids)
            clubs += [
                {**_club(f"set-{group}-{n}", f"set-{group}", dice, ids, heads, grips), "shaft_id": shaft}
                for n in range(IN_A_SET)
            ]
        _put(w, "club", clubs)
        _put(w, "stock_move", _moves(dice, ids, heads, grips, on_shelf))
        lines = _lines(dice, singles)
        _put(w, "order", [_order(n, dice) for n in range(ORDERS)])
        _put(w, "order_line", lines)
        _put(w, "choice", _choices(dice, clubs, ids))
        supply = [
            {"kind": "shaft", "item_id": s, "ordered": dice.randint(1, 6), "id": f"s{n}",
             "expected_on": FIRST_DAY + dt.timedelta(days=dice.randint(3, 60))}
            for n, s in enumerate(dice.sample(ids, 400))
        ]  # fmt: skip
        _put(w, "supply", supply)
    return catalogue


def _club(
    key: str, group: str | None, dice: random.Random, ids: list[str], heads: list[str], grips: list[str]
) -> dict[str, Any]:
    return {
        "id": key,
        "set_id": group,
        "head_id": dice.choice(heads),
        "shaft_id": dice.choice(ids[:1500]),
        "grip_id": dice.choice(grips),
        "ferrule_id": f"ferrule-{dice.randrange(10)}",
        "playing_length_in": 36.0,
    }


def _moves(
    dice: random.Random, ids: list[str], heads: list[str], grips: list[str], on_shelf: int
) -> list[dict[str, Any]]:
    wanted = [("shaft", dice.choice(ids[:1500]), 1) for _ in range(on_shelf)]
    wanted += [("head", h, dice.randint(2, 12)) for h in heads] + [("grip", g, dice.randint(20, 60)) for g in grips]
    wanted += [("ferrule", f"ferrule-{n}", 80) for n in range(10)]
    return [
        {"id": f"m{n}", "kind": k, "item_id": i, "quantity": q, "reason": "received", "location": "rack"}
        for n, (k, i, q) in enumerate(wanted)
    ]


def _order(number: int, dice: random.Random) -> dict[str, Any]:
    return {
        "id": f"o-{number}",
        "state": dice.choice(("open", "open", "at_bench")),
        "customer": f"customer {number} (invented)",
        "wanted_on": FIRST_DAY + dt.timedelta(days=dice.randint(0, 70)),
        "taken_on": FIRST_DAY - dt.timedelta(days=dice.randint(0, 20)),
    }


def _lines(dice: random.Random, singles: int) -> list[dict[str, Any]]:
    """Every club and every set once."""
    what: list[tuple[str | None, str | None]] = [(f"club-{n}", None) for n in range(singles)]
    what += [(None, f"set-{n}") for n in range(SETS)]
    dice.shuffle(what)
    numbers = dict.fromkeys(range(ORDERS), 0)
    rows = []
    for n, (club, group) in enumerate(what):
        order = n % ORDERS
        numbers[order] += 1
        rows.append({"order_id": f"o-{order}", "line": numbers[order], "club_id": club, "set_id": group, "quantity": 1})
    return rows


def _choices(dice: random.Random, clubs: list[dict[str, Any]], ids: list[str]) -> list[dict[str, Any]]:
    rows = []
    for n, club in enumerate(dice.sample(clubs, 250)):
        shaft = dice.choice(ids[:1500])
        if shaft != club["shaft_id"]:
            row = {"id": f"c{n}", "club_id": club["id"], "shaft_id": shaft, "decision": "chosen", "tip_trim_in": 0.5}
            rows.append(row)
    return rows
