"""``specdb order list``, ``show`` and ``parts``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import settings
from specdb.cli.completion import complete_key_of
from specdb.cli.options import json_option
from specdb.cli.order_group import order
from specdb.cli.tables import Column, show

if TYPE_CHECKING:
    from specdb.verbs.orders.orders import NeedState, OrderView, PartLine, UnitView

order_argument = click.argument("key", metavar="ORDER", shell_complete=complete_key_of("order"))


@order.command("list", examples=("specdb order list", "specdb order list --state finished --json"))
@click.option("--state", "states", multiple=True, metavar="STATE", help="Only of this state; may be repeated.")
@click.option("--all", "everything", is_flag=True, help="Of every state.")
@json_option
def list_orders(states: tuple[str, ...] = (), everything: bool = False, as_json: bool = False) -> None:
    """List the orders that still need parts, the one wanted first at the top.

    On the shelf and expected are told in turn: what the orders wanted earlier need is taken to be theirs.
    """
    from specdb.orders.needs import NEEDING_PARTS
    from specdb.verbs.orders.changes import state_word
    from specdb.verbs.orders.orders import order_json, orders_of

    wanted = tuple(state_word(s) for s in states) or NEEDING_PARTS
    views = orders_of(settings().open(), None if everything else wanted)
    if as_json:
        output.emit_json([order_json(view) for view in views])
        return
    if not views:
        output.line("No such order.")
        return
    columns = [
        Column("order", keep=True),
        Column("state", keep=True),
        Column("wanted", keep=True),
        Column("clubs", right=True, keep=True),
        Column("parts", right=True),
        Column("built in", right=True),
        Column("kept", right=True),
        Column("on the shelf", right=True),
        Column("short", right=True, keep=True),
        Column("expected"),
        Column("customer", wraps=True),
    ]
    show(columns, [_row(view) for view in views])
    output.bullets(f"{view.order.id}: {text}" for view in views for text in view.problems)


def _row(view: OrderView) -> list[str]:
    states = view.states
    figures = (
        sum(s.need.quantity for s in states),
        sum(s.used for s in states),
        sum(s.reserved for s in states),
        sum(s.in_turn for s in states),
        sum(s.waiting for s in states) if view.active else 0,
    )
    expected = output.cell(view.expected_on) or ("unknown" if view.active and figures[-1] else "")
    return [
        output.printable(view.order.id),
        view.order.state.replace("_", " "),
        output.cell(view.order.wanted_on),
        str(len(view.units)),
        *(str(n) if n else "" for n in figures),
        expected,
        output.cell(view.order.customer),
    ]


@order.command("show", examples=("specdb order show o-1042", "specdb order show o-1042 --json"))
@order_argument
@json_option
def show_order(key: str, as_json: bool) -> None:
    """Show an order: its clubs, what each needs and how that stands, and what is against building it."""
    from specdb.verbs.orders.orders import order_json, order_of

    view = order_of(settings().open(), key)
    if as_json:
        output.emit_json(order_json(view))
        return
    _write_head(view)
    for unit in view.units:
        _write_unit(unit, active=view.active)
    _write_ends(view)


def _write_head(view: OrderView) -> None:
    one = view.order
    output.title(f"Order {one.id}: {one.state.replace('_', ' ')}")
    facts = [
        output.cell(one.customer),
        f"wanted {one.wanted_on.isoformat()}" if one.wanted_on else "",
        f"taken {one.taken_on.isoformat()}" if one.taken_on else "",
        f"by {one.taken_by}" if one.taken_by else "",
    ]
    told = ", ".join(f for f in facts if f)
    if told:
        output.sentence(told, indent="  ")
    if one.notes:
        output.sentence(one.notes, indent="  ")
    if view.active and view.units:
        output.sentence(_when(view), indent="  ")


def _when(view: OrderView) -> str:
    from specdb.verbs.orders.changes import today

    if view.problems:
        return "Something stands against building it, see below."
    if all(unit.built for unit in view.units):
        return "Every part of it was built in."
    built, every = sum(s.used for s in view.states), sum(s.need.quantity for s in view.states)
    if view.buildable_now and built:
        return f"{built} of its {every} parts {'is' if built == 1 else 'are'} built in; the rest can be built today."
    if view.buildable_now:
        return "All of it can be built today."
    if view.expected_on is not None and view.expected_on < today():
        return f"What is short should have come on {view.expected_on.isoformat()}: ask the supplier."
    if view.expected_on is not None:
        return f"All of it can be built once what is short is there, expected on {view.expected_on.isoformat()}."
    return "Something is short, and nobody knows until when."


def _write_unit(unit: UnitView, *, active: bool) -> None:
    club = unit.club
    who = " ".join(text for text in (club.player, club.label) if text)
    output.section(f"{club.id}{f' ({who})' if who else ''}, line {unit.key.line}, {unit.key.unit}")
    rows = []
    for s in unit.states:
        if not s.booked:
            how = "no stock is booked"
        elif not active:
            how = "built in" if s.used else "kept" if s.reserved else "not booked"
        else:
            how = _how(s)
        ahead = f"orders wanted earlier need {s.ahead} more" if active and s.open and s.ahead else ""
        rows.append([s.need.kind, s.need.item_id, how, output.cell(s.expected_on), ahead])
    if club.adhesive_id:
        rows.append(["adhesive", club.adhesive_id, "not counted", "", ""])
    columns = [
        Column("part", keep=True),
        Column("id", keep=True),
        Column("how it stands", wraps=True, keep=True),
        Column("expected"),
        Column("beside", wraps=True),
    ]
    show(columns, rows)


def _how(state: NeedState) -> str:
    words = [("built in", state.used), ("kept", state.reserved), ("on the shelf", state.in_turn)]
    told = [word for word, pieces in words if pieces]
    if state.gone:
        told.append("short: kept, but not there")
    elif state.waiting:
        told.append("on the shelf, but others come first" if state.available else "short")
    return ", ".join(told) or "not needed"


def _write_ends(view: OrderView) -> None:
    if view.said:
        output.section("To be known")
        output.bullets(view.said)
    if view.problems:
        output.section("Against building it")
        output.bullets(view.problems)


@order.command("parts", examples=("specdb order parts o-1042", "specdb order parts o-1042 --json"))
@order_argument
@json_option
def parts(key: str, as_json: bool) -> None:
    """List the parts of an order, each once: needed, built in, kept, free on the shelf, short, expected."""
    from specdb.verbs.orders.orders import parts_of

    view, lines = parts_of(settings().open(), key)
    if as_json:
        output.emit_json({"order_id": key, "state": view.order.state, "parts": [line.to_json() for line in lines]})
        return
    if not lines:
        output.line("It needs no part.")
    else:
        _write_parts(lines)
    _write_ends(view)


def _write_parts(lines: list[PartLine]) -> None:
    columns = [
        Column("part", keep=True),
        Column("id", keep=True),
        Column("needed", right=True, keep=True),
        Column("built in", right=True),
        Column("kept", right=True),
        Column("free for it", right=True, keep=True),
        Column("short", right=True, keep=True),
        Column("expected"),
        Column("needed earlier by others", right=True),
        Column("on hand", right=True),
    ]
    rows = []
    for line in lines:
        figures = (line.used, line.reserved, line.available, line.short)
        told = [str(n) if n else "" for n in figures] if line.booked else ["", "", "not booked", ""]
        rows.append(
            [
                line.kind,
                line.item_id,
                str(line.needed),
                *told,
                output.cell(line.expected_on),
                str(line.ahead) if line.ahead else "",
                str(line.on_hand) if line.booked else "",
            ]
        )
    show(columns, rows)
