"""The whole history of a catalogue, change by change, against the promises; counted from the journal alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import groupby
from typing import Any

from specdb.catalogue import Catalogue

SEEN = ("counted", "damaged")
Part = tuple[str, str]


def _amounts(image: Any, kind: str) -> Iterator[tuple[str, Part, int]]:
    """What a stored row counts for: pieces on hand, held, or seen by a count."""
    if image is None:
        return
    part = (str(image["kind"]), str(image["item_id"]))
    pieces = int(image["quantity"])
    if kind == "stock_move":
        yield "there", part, pieces
        if image["reason"] in SEEN:
            yield "seen", part, pieces
    elif image["state"] == "held":
        yield "held", part, pieces


def broken_promises(shop: Catalogue) -> list[str]:
    """Every change after which more was promised than there was, where no count or damage in it says so.

    Parameters
    ----------
    shop : Catalogue
        The catalogue.
    """
    with shop.read() as r:
        rows = sorted(r.history(), key=lambda row: (row.change_no, row.row_no))
        stored_there = Counter[Part]()
        for move in r.rows("stock_move"):
            stored_there[move.kind, move.item_id] += move.quantity
        stored_held = Counter[Part]()
        for kept in r.rows("reservation"):
            if kept.state == "held":
                stored_held[kept.kind, kept.item_id] += kept.quantity
    sums: dict[str, Counter[Part]] = {"there": Counter(), "held": Counter(), "seen": Counter()}
    found = []
    for number, some in groupby(rows, key=lambda row: row.change_no):
        before = {part: sums["there"][part] - sums["held"][part] for part in [*sums["there"], *sums["held"]]}
        sums["seen"] = Counter()
        done = ""
        for row in some:
            done = f"{row.done}{' (undo)' if row.undoes else ''}"
            if row.kind not in ("stock_move", "reservation"):
                continue
            for sign, image in ((-1, row.before), (1, row.after)):
                for name, part, pieces in _amounts(image, row.kind):
                    sums[name][part] += sign * pieces if name != "seen" or not row.undoes else 0
        for part in {*sums["there"], *sums["held"]}:
            free = sums["there"][part] - sums["held"][part]
            if sums["there"][part] < 0 and sums["seen"][part] >= 0:
                found.append(f"change {number} ({done}): {sums['there'][part]} of {part} on hand")
            if free < 0 and free < before.get(part, 0) and free - sums["seen"][part] < min(before.get(part, 0), 0):
                found.append(f"change {number} ({done}): {free} of {part} free")
    if +stored_there != +sums["there"] or +stored_held != +sums["held"]:
        found.append("the journal and the rows differ")
    return found


def who_has_what(shop: Catalogue) -> dict[tuple[str, int, int, str, Part], tuple[int, int]]:
    """Pieces that are kept for each club, there and not there, dealt out one by one: wanted first, then by number.

    Parameters
    ----------
    shop : Catalogue
        The catalogue.
    """
    with shop.read() as r:
        wanted = {o.id: str(o.wanted_on or "9999") for o in r.rows("order")}
        there = Counter[Part]()
        for move in r.rows("stock_move"):
            there[move.kind, move.item_id] += move.quantity
        kept = [k for k in r.rows("reservation") if k.state == "held"]
    found: dict[tuple[str, int, int, str, Part], tuple[int, int]] = {}
    for k in sorted(kept, key=lambda k: (wanted[k.order_id], k.order_id, k.line, k.unit, k.club_id)):
        part = (k.kind, k.item_id)
        for _ in range(k.quantity):
            key = (k.order_id, k.line, k.unit, k.club_id, part)
            has, lacks = found.get(key, (0, 0))
            found[key] = (has + 1, lacks) if there[part] > 0 else (has, lacks + 1)
            there[part] -= 1
    return found


def loose_ends(shop: Catalogue) -> list[str]:
    """What is wrong with the rows as they stand: two parts of a kind for a club, use without a move, held for nothing.

    Parameters
    ----------
    shop : Catalogue
        The catalogue.
    """
    with shop.read() as r:
        kept, moves = r.rows("reservation"), r.rows("stock_move")
        states = {o.id: o.state for o in r.rows("order")}
        lines = {(n.order_id, n.line): n for n in r.rows("order_line")}
        sets = {c.id: c.set_id for c in r.rows("club")}
    found = []
    of_unit = Counter((k.order_id, k.line, k.unit, k.club_id, k.kind) for k in kept for _ in range(k.quantity))
    found += [f"{count} of {key}" for key, count in of_unit.items() if count > 1]
    used = Counter[tuple[str | None, str, str]]()
    for k in kept:
        if k.state == "used":
            used[k.order_id, k.kind, k.item_id] += k.quantity
            continue
        line = lines[k.order_id, k.line]
        asked = k.club_id == line.club_id or (line.set_id is not None and sets[k.club_id] == line.set_id)
        if states[k.order_id] not in ("open", "at_bench") or not asked or k.unit > line.quantity:
            found.append(f"{k.item_id} is held for {k.order_id}, {states[k.order_id]}")
    left = Counter[tuple[str | None, str, str]]()
    for m in moves:
        if m.reason == "used":
            left[m.order_ref, m.kind, m.item_id] -= m.quantity
    found += [f"{count} of {key} used, {left[key]} left the shelf" for key, count in used.items() if count > left[key]]
    return found
