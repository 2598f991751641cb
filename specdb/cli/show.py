"""``specdb show``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.journal import local_time
from specdb.cli.options import json_option, key_argument, kind_argument
from specdb.cli.tables import Column
from specdb.cli.tables import show as show_table
from specdb.units import unit_label

if TYPE_CHECKING:
    from specdb.verbs.catalogue.details import Details, ReadingSummary, UsedValue


@command("show", "specdb show shaft hollin-reach-holm-60-s", "specdb show club ashby-driver --json")
@kind_argument
@key_argument
@json_option
def show(kind: str, key: str, as_json: bool) -> None:
    """Show one item: its values and where they come from, stock, supply, what refers to it."""
    from specdb.verbs.catalogue.details import details_of

    details = details_of(settings().open(), kind, key)
    if as_json:
        output.emit_json(details.to_json())
    else:
        write(details)


def write(details: Details) -> None:
    """Write an item for a person.

    Parameters
    ----------
    details : Details
        The item.
    """
    output.line(output.heading(f"{details.table.title}: {output.printable(details.key)}"))
    published = " (published values; measured ones below)" if details.table.name == "shaft" else ""
    output.section(f"Values{published}")
    _write_values(details)
    if details.readings:
        output.section("Readings")
        _write_readings(details.readings)
    if details.corrected:
        output.section("Corrected for the instrument when computed with")
        output.bullets(f"{c.name}: {c.told}" for c in details.corrected)
    if details.used:
        output.section("What the mechanics use")
        _write_used(details.used)
        output.bullets(details.assumed)
    if details.settings:
        output.section("Settings")
        names = [n for n in details.settings[0] if n != "adapter_id"]
        columns = [Column(n, right=n != "setting", keep=True) for n in names]
        show_table(columns, [[output.cell(s[n]) for n in names] for s in details.settings])
    if details.shelf is not None:
        output.section("Stock and supply")
        _write_shelf(details)
    if details.referred_by:
        output.section("Referred to by")
        for group in details.referred_by:
            named = ", ".join(group.keys) + (", ..." if group.count > len(group.keys) else "")
            text = f"{group.count} {group.kind}" + (f": {named}" if group.keys else "")
            output.sentence(text, indent="  ", hanging="    ")
    if details.last_change is not None:
        line = details.last_change
        by = f" by {line.by}" if line.by else ""
        why = f" ({line.why})" if line.why else ""
        output.line()
        output.sentence(f"Last change: {line.change_no}, {local_time(line.at)}{by}{why}.")


def _write_values(details: Details) -> None:
    known = [f for f in details.table.fields if details.values.get(f.name) is not None]
    widest = max(len(f.name) for f in known)
    for field in known:
        unit = f" {unit_label(field.unit)}" if field.unit else ""
        text = f"{output.cell(details.values[field.name])}{unit}"
        output.sentence(text, indent=f"  {field.name:<{widest}}  ", hanging=" " * (widest + 4))
    unknown = [f.name for f in details.table.fields if details.values.get(f.name) is None]
    if unknown:
        output.sentence(f"Unknown: {', '.join(unknown)}.", indent="  ", hanging="    ")


def _write_readings(readings: tuple[ReadingSummary, ...]) -> None:
    columns = [
        Column("quantity", keep=True),
        Column("source", keep=True),
        Column("readings", right=True, keep=True),
        Column("pieces", right=True),
        Column("values", right=True, keep=True),
        Column("stations"),
    ]
    rows = []
    for r in readings:
        unit = unit_label(r.unit)
        spread = f"{output.number(r.low)}" if r.low == r.high else f"{r.low:.5g} to {r.high:.5g}"
        stations = f"{r.stations_in[0]:g} to {r.stations_in[1]:g} in" if r.stations_in else ""
        pieces = str(r.pieces) if r.pieces else ""
        rows.append([r.quantity, r.source, str(r.readings), pieces, f"{spread} {unit}", stations])
    show_table(columns, rows)


def _write_used(used: tuple[UsedValue, ...]) -> None:
    columns = [
        Column("value", keep=True),
        Column("used", right=True, keep=True),
        Column("from", wraps=True, keep=True),
    ]
    rows = []
    for u in used:
        spread = f" ± {u.sd:.2g}" if u.sd else ""
        text = "" if u.value is None else f"{u.value:.5g}{spread} {unit_label(u.unit)}"
        rows.append([u.name, text, u.origin])
    show_table(columns, rows)


def _write_shelf(details: Details) -> None:
    shelf = details.shelf
    if shelf is None:
        return
    parts = [shelf.words]
    if shelf.backordered:
        parts.append("backordered")
    if shelf.ordered:
        parts.append(f"{shelf.ordered} on order")
    if shelf.expected_on:
        parts.append(f"expected {shelf.expected_on.isoformat()}")
    output.sentence(", ".join(parts) + ".", indent="  ")
