"""``specdb list`` and ``specdb fields``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_kind
from specdb.cli.options import json_option, kind_argument
from specdb.cli.tables import Column, show

if TYPE_CHECKING:
    from specdb.schema import Field, Table
    from specdb.verbs.catalogue.looking import Listing

# shown first, as far as there is room; every other field can be asked for by name
_FIRST = {
    "shaft": "id club_type weight_g raw_length_in tip_dia_in tip_form torque_deg flex material price status",
    "shaft_reading": "shaft_id sample quantity value position_in sd taken_on",
    "head": "id club_type number hand loft_deg lie_deg weight_g bore_dia_in bore_form connection status",
    "adapter": "id connection hand bore_dia_in bore_form bore_depth_in weight_g status",
    "grip": "id weight_g core_dia_in length_in rib price status",
    "club": "id shaft_id head_id playing_length_in tip_trim_in swingweight player label status",
    "stock_move": "on kind item_id quantity reason by order_ref location",
    "supply": "kind item_id ordered expected_on backordered supplier asked_on",
    "choice": "club_id shaft_id decision tip_trim_in by on why",
}
_USUAL_LIMIT = 100
_SETS = ("set", "sets")
_COARSE = ("g", "deg", "cpm", "n_m2")


@command(
    "list",
    "specdb list shaft",
    "specdb list shaft --where 'weight_g < 70 and tip_dia_in = 0.335'",
    "specdb list head --columns id,weight_g,bore_depth_in --json",
    "specdb list sets",
)
@kind_argument
@click.option("--where", metavar="COND", help="Only what fits, such as \"flex = 'S' and weight_g < 65\".")
@click.option("--columns", metavar="A,B", help="Only these fields, in this order.")
@click.option("--limit", type=click.IntRange(min=0), help=f"At most this many rows; {_USUAL_LIMIT} in a table.")
@click.option("--all", "everything", is_flag=True, help="All rows, retired ones too.")
@click.option("--wide", is_flag=True, help="All columns, however wide the table gets.")
@json_option
def list_kind(
    kind: str,
    where: str | None,
    columns: str | None,
    limit: int | None,
    everything: bool,
    wide: bool,
    as_json: bool,
) -> None:
    """List items of a KIND: shaft, head, adapter, grip, club, ... ('specdb fields' lists them); 'sets': fitted sets."""
    from specdb.verbs.catalogue.looking import list_rows

    if kind.strip().lower() in _SETS:
        if where is not None or columns is not None:
            raise click.UsageError("sets are listed whole: --where and --columns go with 'specdb list club'")
        _list_sets(limit, as_json=as_json)
        return
    names = [name.strip() for name in columns.split(",") if name.strip()] if columns is not None else []
    if columns is not None and not names:
        raise click.UsageError("--columns names no field")
    if limit is None and not as_json and not everything:
        limit = _USUAL_LIMIT
    found = list_rows(settings().open(), kind, where=where, columns=names, limit=limit, retired=everything)
    if as_json:
        output.emit_json(found.to_json())
        return
    _write(found, names, wide=wide)


def _list_sets(limit: int | None, *, as_json: bool) -> None:
    """List the fitted sets, which are no kind of their own: a club says which set it belongs to."""
    from specdb.verbs.sets.lists import fitted_sets

    found = fitted_sets(settings().open())
    shown = found if limit is None else found[:limit]
    if as_json:
        output.emit_json([one.to_json() for one in shown])
        return
    if shown:
        columns = [
            Column("set", keep=True),
            Column("clubs", right=True, keep=True),
            Column("numbers", wraps=True, keep=True),
            Column("player", wraps=True, keep=True),
            Column("shafts", wraps=True),
        ]
        rows = [
            [one.set_id, str(len(one.clubs)), " ".join(n or "?" for n in one.numbers), one.player, one.supply]
            for one in shown
        ]
        show(columns, [[output.printable(text) for text in row] for row in rows], more="--json has everything.")
    output.note(f"{output.plural(len(found), 'fitted set')}.")


def _write(found: Listing, names: list[str], *, wide: bool) -> None:
    rows = found.rows.to_pylist()
    if rows:
        shown = names or _columns(found.table, rows, wide=wide)
        columns = [_column(found.table, name, keep=bool(names) and not wide) for name in shown]
        more = "Name columns with --columns, or use --wide."
        show(columns, [[_cell(found.table, n, row[n]) for n in shown] for row in rows], wide=wide, more=more)
    output.note(_summary(found, len(rows)))


def _cell(table: Table, name: str, value: object) -> str:
    if isinstance(value, float):
        # what was typed in ounces or millimetres has more digits than were ever measured; 'show' and --json have all
        value = round(value, 2 if table.field(name).unit in _COARSE else 4)
    return output.cell(value)


def _summary(found: Listing, shown: int) -> str:
    parts = [output.plural(found.matching, found.table.title.lower())]
    if shown < found.matching:
        parts = [f"{shown} of {parts[0]} shown; --limit shows more"]
    if found.retired_hidden:
        parts.append(f"{found.retired_hidden} retired not shown (--all shows them)")
    return "; ".join(parts) + "."


def _columns(table: Table, rows: list[dict[str, object]], *, wide: bool) -> list[str]:
    first = _FIRST.get(table.name, "").split()
    order = [*first, *(n for n in table.field_names if n not in first)] if wide or not first else first
    filled = {n for n in order if any(row[n] is not None for row in rows)}
    return [n for n in order if n in filled or n in table.primary_key]


def _column(table: Table, name: str, *, keep: bool) -> Column:
    field = table.field(name)
    key = name in table.primary_key or name.endswith("_id")
    loose = field.type == "string" and not key and not field.enum
    return Column(name, right=field.is_number, wraps=loose, keep=keep or name in table.primary_key)


def _takes(table: Table, field: Field) -> str:
    made = table.derive_key_from and (field.name,) == tuple(table.primary_key)  # worked out when left empty
    return field.allowed() + (" (needed)" if field.required and not made else "")


@command("fields", "specdb fields", "specdb fields shaft", "specdb fields shaft --json")
@click.argument("kind", required=False, shell_complete=complete_kind)
@json_option
def fields(kind: str | None, as_json: bool) -> None:
    """List the kinds, or the fields of one KIND with what they take."""
    from specdb.schema import load_schema
    from specdb.verbs.catalogue.kinds import table_of

    if kind is None:
        schema = load_schema()
        tables = [schema.table(k) for k in schema.kinds]
        if as_json:
            output.emit_json([{"kind": t.name, "description": t.description} for t in tables])
            return
        show(
            [Column("kind", keep=True), Column("what it is", wraps=True, keep=True)],
            [[t.name, t.description] for t in tables],
        )
        return
    table = table_of(kind)
    if as_json:
        output.emit_json(
            [
                {
                    "field": f.name,
                    "type": f.type,
                    "unit": f.unit,
                    "required": f.required,
                    "allowed": f.allowed(),
                    "description": f.description,
                }
                for f in table.fields
            ]
        )
        return
    output.sentence(table.description)
    output.line()
    show(
        [
            Column("field", keep=True),
            Column("takes", wraps=True, keep=True),
            Column("meaning", wraps=True, keep=True),
        ],
        [[f.name, _takes(table, f), f.description] for f in table.fields],
    )
