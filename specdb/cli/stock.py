"""``specdb stock`` and ``specdb supply``."""

from __future__ import annotations

import datetime as dt
from typing import Any

import click

from specdb.cli import output
from specdb.cli.base import group, settings
from specdb.cli.completion import complete_key, complete_kind
from specdb.cli.options import DAY_HELP, day_ahead, journal_options, json_option, key_argument, kind_argument
from specdb.cli.tables import Column, show


class _Pieces(click.IntRange):
    """Whole pieces; what is no number is said in plain words."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401 (as click's)
        """Read the number of pieces."""
        try:
            int(value)
        except ValueError:
            self.fail(f"'{value}' is no whole number", param, ctx)
        return super().convert(value, param, ctx)


_PIECES = _Pieces(min=0, max=1_000_000)


@group(
    "stock",
    "specdb stock list shaft",
    "specdb stock receive shaft hollin-reach-holm-60-s 6",
    "specdb stock count grip pellow-reed-50-600 11",
)
@click.pass_context
def stock(context: click.Context) -> None:
    """Show the stock; book what came in, went out or was counted."""
    if context.invoked_subcommand is None:
        context.invoke(list_stock)


@stock.command("list", examples=("specdb stock list", "specdb stock list shaft --json"))
@click.argument("kind", required=False, shell_complete=complete_kind)
@click.argument("key", required=False, metavar="[ID]", shell_complete=complete_key)
@json_option
def list_stock(kind: str | None, key: str | None, as_json: bool) -> None:
    """List what is on hand, what of it is free (kept for no order), on order and backordered."""
    from specdb.verbs.catalogue.holdings import shelf

    lines = shelf(settings().open(), kind, key)
    if as_json:
        output.emit_json([line.to_json() for line in lines])
        return
    if not lines:
        output.line("Nothing on hand, on order or backordered.")
        return
    columns = [
        *([] if kind else [Column("kind", keep=True)]),
        Column("id", keep=True),
        Column("on hand", right=True, keep=True),
        Column("free", right=True, keep=True),
        Column("on order", right=True),
        Column("expected"),
        Column("backordered"),
    ]
    show(
        columns,
        [
            [
                *([] if kind else [line.kind]),
                line.item_id,
                output.cell(line.on_hand),
                output.cell(line.free),
                output.cell(line.ordered),
                output.cell(line.expected_on),
                "yes" if line.backordered else "",
            ]
            for line in lines
        ],
    )


def _booking(action: str, summary: str, example: str) -> None:
    @stock.command(action, help=summary, examples=(example,))
    @kind_argument
    @key_argument
    @click.argument("pieces", type=_PIECES)
    @click.option("--location", metavar="TEXT", help="Shelf or place.")
    @click.option("--order", "order_ref", metavar="TEXT", help="Order it belongs to.")
    @journal_options
    def book(kind: str, key: str, pieces: int, **more: Any) -> None:  # noqa: ANN401
        from specdb.verbs.catalogue.changing import move_stock
        from specdb.verbs.catalogue.kinds import table_of

        before, after = move_stock(settings().open(), action, kind, key, pieces, **more)
        output.line(f"{table_of(kind).name} {key}: {before} -> {after} on hand.")


_booking("receive", "Book pieces that came in.", "specdb stock receive shaft hollin-reach-holm-60-s 6 --order PO-17")
_booking("use", "Book pieces that were built in.", "specdb stock use shaft hollin-reach-holm-60-s 1")
_booking("return", "Book pieces that came back unused.", "specdb stock return shaft hollin-reach-holm-60-s 1")
_booking(
    "damage",
    "Book pieces that were spoilt.",
    "specdb stock damage shaft hollin-reach-holm-60-s 1 --why 'split at the tip'",
)
_booking("count", "Set the stock to what was counted.", "specdb stock count grip pellow-reed-50-600 11")


@group(
    "supply", "specdb supply list", "specdb supply set shaft hollin-reach-holm-60-s --ordered 6 --expected 2026-09-30"
)
@click.pass_context
def supply(context: click.Context) -> None:
    """Show or change what is on order or backordered."""
    if context.invoked_subcommand is None:
        context.invoke(list_supply)


@supply.command("list", examples=("specdb supply list", "specdb supply list shaft hollin-reach-holm-60-s --json"))
@click.argument("kind", required=False, shell_complete=complete_kind)
@click.argument("key", required=False, metavar="[ID]", shell_complete=complete_key)
@json_option
def list_supply(kind: str | None, key: str | None, as_json: bool) -> None:
    """List what is on order or backordered, line by line."""
    from specdb.verbs.catalogue.holdings import supply_lines

    lines = supply_lines(settings().open(), kind, key)
    if as_json:
        output.emit_json(lines)
        return
    if not lines:
        output.line("Nothing is on order or backordered.")
        return
    names = ("kind", "item_id", "ordered", "expected_on", "backordered", "supplier", "asked_on")
    columns = [Column(n, keep=n in ("kind", "item_id"), right=n == "ordered") for n in names]
    show(columns, [[output.cell(line[n]) for n in names] for line in lines])


@supply.command(
    "set",
    examples=(
        "specdb supply set shaft hollin-reach-holm-60-s --ordered 6 --expected 2026-09-30",
        "specdb supply set shaft hollin-reach-holm-60-s --backordered --supplier 'Hillside Supply'",
    ),
)
@kind_argument
@key_argument
@click.option("--ordered", type=_PIECES, metavar="PIECES", help="Pieces on order.")
@click.option("--expected", callback=day_ahead, metavar="DAY", help=f"Day they are expected: {DAY_HELP}.")
@click.option("--backordered/--available", default=None, help="Whether the supplier has none.")
@click.option("--supplier", metavar="NAME", help="Supplier asked.")
@journal_options
def set_supply(
    kind: str,
    key: str,
    ordered: int | None,
    expected: dt.date | None,
    backordered: bool | None,
    supplier: str | None,
    by: str | None,
    why: str | None,
) -> None:
    """Note what is on order for an item, or that the supplier has none."""
    from specdb.verbs.catalogue import changing
    from specdb.verbs.catalogue.kinds import table_of

    given = {
        "ordered": ordered,
        "expected_on": expected,
        "backordered": backordered,
        "supplier": supplier,
    }
    values = {name: value for name, value in given.items() if value is not None}
    if not values:
        raise click.UsageError("say what is known: --ordered, --expected, --backordered or --supplier")
    done = changing.set_supply(settings().open(), kind, key, values, by=by, why=why)
    output.line(f"supply of {table_of(kind).name} {key} {done}.")
