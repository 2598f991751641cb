"""Rows of the kinds ``stock_move`` and ``supply``: what lies on the shelf, what is short, what comes when."""

from __future__ import annotations

from typing import Any

from recipe import adapters, heads, makers, small_parts
from recipe.design import Design
from recipe.keys import digest_key
from recipe.scatter import seldom, uniform
from recipe.shafts import RETIRED

Row = dict[str, Any]

# pieces on the shelf that the story needs; all others are drawn
ON_HAND = {
    "hollin-reach-sker-60-s": 0,
    "hollin-reach-sker-60-x": 2,
    "hollin-reach-sker-50-s": 1,
    "hollin-reach-sker-70-s": 3,
    "hollin-reach-holm-60-s": 4,
    "ambrel-lyde-60-s": 2,
    "ambrel-lyde-60-r": 0,
    "quern-teasel-60-s": 3,
    "ambrel-selvedge-65-s": 2,
    "hollin-reach-whimbrel-55-s": 2,
    "hollin-reach-sker-hybrid-85-s": 0,
    "hollin-reach-holm-hybrid-80-s": 2,
    "hollin-reach-sker-hybrid-85-x": 1,
    "stavely-tenter-105-s-5": 3,
    "stavely-tenter-105-s-7": 0,
    "stavely-tenter-105-s-9": 2,
    "stavely-tenter-105-s-pw": 2,
    "stavely-reeve-parallel-100-s": 8,
    "stavely-tenter-parallel-115-s": 11,
    "hollin-reach-siskin-50-r": 0,
    "hollin-reach-ouzel-70-s": 0,
    "hollin-reach-holm-iron-75-r": 6,
    "hollin-reach-sker-iron-65-a": 4,
}
# kind, item, ordered, expected, backordered, asked
SUPPLY = (
    ("shaft", "hollin-reach-sker-60-s", 6, "2027-02-19", True, "2026-11-04"),
    ("shaft", "ambrel-lyde-60-r", 4, "2027-03-03", True, "2026-10-20"),
    ("shaft", "stavely-tenter-105-s-7", 8, "2027-01-08", True, "2026-11-06"),
    ("shaft", "hollin-reach-siskin-50-r", 2, None, True, "2026-11-18"),
    ("shaft", "hollin-reach-ouzel-70-s", 3, "2026-12-24", False, "2026-11-12"),
    ("shaft", "hollin-reach-sker-hybrid-85-s", 3, "2026-12-17", False, "2026-11-04"),
    ("shaft", "ambrel-selvedge-65-x", 2, "2026-12-10", False, "2026-11-04"),
    ("shaft", "hollin-reach-whimbrel-65-s", 4, "2026-12-02", False, "2026-11-12"),
    ("shaft", "duskmere-gloam-70-x", 1, None, True, "2026-11-12"),
    ("head", "orrin-vale-escarp-460-9-rh", 2, "2027-01-15", True, "2026-11-04"),
    ("head", "castellan-mattock-5-rh", 6, "2026-12-30", False, "2026-11-18"),
    ("adapter", "vale-eight-eight-350-lh", 5, "2027-01-22", True, "2026-11-12"),
    ("sleeve", "sleeve-335-370", 20, "2026-12-08", False, "2026-11-18"),
    ("grip", "kestmoor-steady-wide-95-590", 4, "2026-12-14", True, "2026-11-18"),
    ("adhesive", "epoxy-filled", 2, "2026-12-09", False, "2026-11-18"),
)
_PLACE = {
    "shaft": "shaft rack",
    "head": "head drawer",
    "adapter": "small parts",
    "sleeve": "small parts",
    "ferrule": "small parts",
    "grip": "grip wall",
    "adhesive": "glue cupboard",
}
_SHORT_PARTS = {
    "vale-eight-eight-350-lh",
    "sleeve-335-370",
    "kestmoor-steady-wide-95-590",
    "orrin-vale-escarp-460-9-rh",
    "castellan-mattock-5-rh",
}


def move(kind: str, item: str, quantity: int, reason: str, on: str, order: str | None = None) -> Row:
    """A move of stock, without its key.

    Parameters
    ----------
    kind, item : str
        The part.
    quantity : int
        Pieces, signed.
    reason, on : str
        Why and when.
    order : str or None
        The order it belongs to.
    """
    return {
        "kind": kind,
        "item_id": item,
        "location": _PLACE[kind],
        "quantity": quantity,
        "reason": reason,
        "on": on,
        "by": makers.BUILDER,
        "order_ref": order,
    }


def _ledger(kind: str, item: str, on_hand: int) -> list[Row]:
    """Moves that end at a number on hand: received in September, some used, now and then counted."""
    used = int(4 * uniform("used", item))
    lost = 1 if seldom(0.06, "lost", item) else 0
    received = on_hand + used + lost
    if not received:
        return []
    order = f"R{2600 + int(80 * uniform('order', item))}"
    moves = [move(kind, item, received, "received", "2026-09-12", order)]
    if used:
        moves.append(move(kind, item, -used, "used", f"2026-10-{10 + int(18 * uniform('day', item)):02d}"))
    if lost:
        moves.append(move(kind, item, -1, "damaged" if kind == "shaft" else "counted", "2026-11-20"))
    return moves


def _shaft_on_hand(design: Design) -> int:
    if design.key in ON_HAND:
        return ON_HAND[design.key]
    if design.key in RETIRED:
        return 0
    draw = uniform("stock", design.key)
    return 0 if draw < 0.40 else 1 + int(4 * uniform("pieces", design.key))


def moves(designs: list[Design]) -> list[Row]:
    """The ledger.

    Parameters
    ----------
    designs : list of Design
        All shafts.
    """
    found: list[Row] = []
    for design in designs:
        found += _ledger("shaft", design.key, _shaft_on_hand(design))
    parts = {
        "head": (heads.rows(), 2),
        "adapter": (adapters.rows(), 6),
        "sleeve": (small_parts.sleeves(), 24),
        "ferrule": (small_parts.ferrules(), 40),
        "grip": (small_parts.grips(), 18),
        "adhesive": (small_parts.adhesives(), 3),
    }
    for kind, (rows, usual) in parts.items():
        for row in rows:
            item = row["id"]
            none = item in _SHORT_PARTS or row["status"] == "retired"
            found += _ledger(kind, item, 0 if none else max(1, round(usual * (0.5 + uniform("stock", item)))))
    found.append(move("shaft", "hollin-reach-holm-70-x", 1, "returned", "2026-11-19", "R2671"))
    return [{"id": digest_key("stock_move", m), **m} for m in found]


def supply() -> list[Row]:
    """What is on order or cannot be had."""
    rows = []
    for kind, item, ordered, expected, backordered, asked in SUPPLY:
        supplier = makers.GREYFEN if kind in ("shaft", "sleeve", "adhesive") else makers.POSTERN
        if item.startswith("ambrel"):
            supplier = makers.POSTERN
        row = {
            "kind": kind,
            "item_id": item,
            "ordered": ordered,
            "expected_on": expected,
            "backordered": backordered,
            "supplier": supplier,
            "asked_on": asked,
        }
        rows.append({"id": digest_key("supply", row), **row})
    return rows
