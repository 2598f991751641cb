"""Rows of the kinds ``order``, ``order_line``, ``reservation`` and ``as_built``, with the moves of stock that go with them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from recipe import adapters, clubs, heads, makers, small_parts, stock
from recipe.club_math import frequency_cpm, swing_points
from recipe.design import Design
from recipe.keys import digest_key
from recipe.readings import METER, METER_2, Bench, piece_of
from recipe.scatter import normal

Row = dict[str, Any]

PIECES = ("shaft", "head", "adapter", "sleeve", "ferrule", "grip")


@dataclass(frozen=True)
class Taken:
    """An order as it was taken, and how far it is.

    Attributes
    ----------
    number : int
        Its number.
    customer, state, taken, wanted : str
        Who, how far, and the days.
    lines : tuple of str
        Clubs and sets, one a line.
    notes : str
        Notes.
    """

    number: int
    customer: str
    state: str
    taken: str
    wanted: str | None
    lines: tuple[str, ...]
    notes: str = ""

    @property
    def key(self) -> str:
        """Key of the order."""
        return f"o-{self.number}"


@dataclass(frozen=True)
class Built:
    """A club that came off the bench.

    Attributes
    ----------
    order, club, day, meter : str
        Which, when, and with which meter its frequency was measured.
    stand_in : str or None
        Shaft that went in instead of the fitted one.
    trim_in : float or None
        Its tip trim.
    """

    order: str
    club: str
    day: str
    meter: str
    stand_in: str | None = None
    trim_in: float | None = None


TAKEN = (
    Taken(1037, "Rowan Ashby", "collected", "2026-11-03", "2026-11-17", ("ashby-wedge",)),
    Taken(1038, "Maud Sorley", "collected", "2026-10-19", "2026-11-06", ("sorley-7-iron",)),
    Taken(1039, "Bram Tansley", "finished", "2026-10-23", "2026-11-20", ("tansley-driver",)),
    Taken(
        1040, "Bram Tansley", "finished", "2026-11-11", "2026-11-27", ("tansley-3-wood",), "Built with the stand-in."
    ),
    Taken(1041, "Rowan Ashby", "open", "2026-11-03", "2026-12-11", ("ashby-driver", "ashby-hybrid")),
    Taken(1042, "Ines Quilter", "open", "2026-11-05", "2026-12-18", ("quilter-irons", "quilter-putter"), "As a gift."),
    Taken(1043, "Bram Tansley", "open", "2026-11-11", "2026-12-04", ("tansley-irons",)),
    Taken(1044, "Maud Sorley", "cancelled", "2026-11-12", None, ("sorley-driver",), "Waits for the spring."),
    Taken(1045, "Odo Wexcombe", "at_bench", "2026-11-17", "2026-12-01", ("wexcombe-7-iron",)),
    Taken(1046, "Odo Wexcombe", "open", "2026-11-17", None, ("wexcombe-driver",), "When it comes; no hurry."),
)
BUILT = (
    Built("o-1037", "ashby-wedge", "2026-11-12", METER_2),
    Built("o-1038", "sorley-7-iron", "2026-11-02", METER_2),
    Built("o-1039", "tansley-driver", "2026-11-18", METER),
    Built("o-1040", "tansley-3-wood", "2026-11-24", METER, "hollin-reach-sker-70-s", 1.5),
)
HELD = (("o-1045", "wexcombe-7-iron"),)
_METER_OFF = {METER: 1.0, METER_2: 0.99}


def orders() -> list[Row]:
    """The orders."""
    return [
        {
            "id": t.key,
            "customer": f"{t.customer} (invented)",
            "state": t.state,
            "wanted_on": t.wanted,
            "taken_on": t.taken,
            "taken_by": makers.FITTER,
            "notes": f"{t.notes} Invented.".strip(),
        }
        for t in TAKEN
    ]


def lines() -> list[Row]:
    """Their lines."""
    sets = {f.set_id for f in clubs.FITTED if f.set_id}
    return [
        {
            "order_id": t.key,
            "line": number,
            "club_id": None if what in sets else what,
            "set_id": what if what in sets else None,
            "quantity": 1,
        }
        for t in TAKEN
        for number, what in enumerate(t.lines, start=1)
    ]


def _fitted(club: str) -> clubs.Fitted:
    return next(f for f in clubs.FITTED if f.key == club)


def _parts(club: str, stand_in: str | None = None) -> list[tuple[str, str]]:
    fitted = _fitted(club)
    found = {
        "shaft": stand_in or fitted.shaft,
        "head": fitted.head,
        "adapter": fitted.adapter,
        "ferrule": fitted.ferrule,
        "grip": fitted.grip,
    }
    return [(kind, str(found[kind])) for kind in PIECES if found.get(kind) is not None]


def reservations() -> list[Row]:
    """Parts that went into built clubs, and parts kept for the one at the bench."""
    rows = []
    wanted = [(b.order, b.club, _parts(b.club, b.stand_in), "used", b.day) for b in BUILT]
    wanted += [(order, club, _parts(club), "held", "2026-11-24") for order, club in HELD]
    for order, club, parts, state, day in wanted:
        for kind, item in parts:
            row = {
                "order_id": order,
                "line": 1,
                "unit": 1,
                "club_id": club,
                "kind": kind,
                "item_id": item,
                "quantity": 1,
                "state": state,
                "on": day,
                "by": makers.BUILDER,
            }
            rows.append({"id": digest_key("reservation", row), **row})
    return rows


def moves() -> list[Row]:
    """What was bought for the built clubs, and went into them; the shelf is left as it is."""
    found = []
    for built in BUILT:
        for kind, item in _parts(built.club, built.stand_in):
            found.append(stock.move(kind, item, 1, "received", "2026-10-27", f"R{built.order[2:]}"))
            found.append(stock.move(kind, item, -1, "used", built.day, built.order))
    return [{"id": digest_key("stock_move", m), **m} for m in found]


def as_built(designs: list[Design]) -> list[Row]:
    """What was measured on the built clubs, beside what had been expected.

    Parameters
    ----------
    designs : list of Design
        All shafts.
    """
    by_key = {d.key: d for d in designs}
    parts = {
        "head": {r["id"]: r for r in heads.rows()},
        "adapter": {r["id"]: r for r in adapters.rows()},
        "grip": {r["id"]: r for r in small_parts.grips()},
        "ferrule": {r["id"]: r for r in small_parts.ferrules()},
    }
    rows = []
    for built in BUILT:
        fitted = _fitted(built.club)
        if built.stand_in is not None:
            fitted = replace(fitted, shaft=built.stand_in, trim_in=built.trim_in or 0.0, sample=None)
        rows += _measured(built, fitted, by_key[fitted.shaft], parts)
    return rows


def _measured(built: Built, fitted: clubs.Fitted, design: Design, parts: dict[str, dict[str, Row]]) -> list[Row]:
    setup = clubs.setup_of(fitted, parts)
    blank = design.blank if fitted.sample is None else Bench(design, piece_of(fitted.shaft, fitted.sample)).blank
    head = parts["head"][fitted.head]
    swing = 213.5 + 1.75 * swing_points(blank, setup)
    cpm = frequency_cpm(blank, setup)

    def off(name: str, sd: float, decimals: int) -> float:
        return round(sd * normal("built", built.club, name), decimals)

    figures = (
        # quantity, expected, its doubt, measured, instrument
        ("length", fitted.length_in, None, fitted.length_in + round(off("length", 0.02, 3) * 16) / 16, "club ruler"),
        ("swingweight", round(swing, 2), 0.9, round(swing + off("swing", 1.2, 2), 2), "swingweight scale"),
        (
            "frequency",
            round(cpm + off("expected", 1.0, 1), 1),
            2.2,
            round(cpm * _METER_OFF[built.meter] + off("frequency", 1.2, 1)),
            built.meter,
        ),
        (
            "loft",
            head["loft_deg"] + (fitted.loft_deg or 0.0),
            None,
            head["loft_deg"] + off("loft", 0.3, 1),
            "angle gauge",
        ),
        (
            "lie",
            head["lie_deg"] + (fitted.lie_deg or 0.0),
            None,
            round(head["lie_deg"] + (fitted.lie_deg or 0.0) + off("lie", 0.3, 1), 1),
            "angle gauge",
        ),
    )
    as_cut = {
        "clamp_in": 5.0,
        "tip_trim_in": setup.trim_in,
        "insertion_in": setup.insertion_in,
        "cut_length_in": round(setup.length_in - setup.cap_in - setup.ground_in, 4),
        "head_g": setup.head_g,
        "head_cg_in": head.get("cg_below_mouth_in"),
        "mouth_g": setup.mouth_g,
    }
    rows = []
    for quantity, expected, doubt, value, instrument in figures:
        row = {
            "order_id": built.order,
            "line": 1,
            "unit": 1,
            "club_id": built.club,
            "shaft_id": fitted.shaft,
            "shaft_sample": fitted.sample,
            "quantity": quantity,
            "value": value,
            **(as_cut if quantity == "frequency" else {}),
            "expected": expected,
            "expected_sd": doubt,
            "instrument": instrument,
            "taken_on": built.day,
            "taken_by": makers.BUILDER,
            "notes": "Invented.",
        }
        rows.append({"id": digest_key("as_built", row), **row})
    of_the_club = ("order_id", "line", "unit", "club_id", "shaft_id", "shaft_sample", "taken_on", "taken_by", "notes")
    weight = {name: rows[0][name] for name in of_the_club}
    weight |= {"quantity": "weight", "waived": "scales away for repair"}
    rows.append({"id": digest_key("as_built", weight), **weight})
    return rows
