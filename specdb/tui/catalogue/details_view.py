"""Everything about one item as text, and the screen that shows it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from specdb.schema import load_schema
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.catalogue.kinds import counted
from specdb.tui.catalogue.row_actions import ROW_ACTIONS, RowActions
from specdb.tui.widgets.columns import plain
from specdb.units import unit_label

if TYPE_CHECKING:
    from specdb.verbs.catalogue.details import Details, ReadingSummary, UsedValue

_LABEL = 24


def describe(details: Details) -> Table:
    """An item, for a person.

    Parameters
    ----------
    details : Details
        The item.
    """
    text = Table.grid(padding=(0, 1, 0, 0), expand=True)
    text.add_column(width=_LABEL)
    text.add_column(ratio=1)
    values = details.values
    named = " ".join(str(values[n]) for n in ("maker", "model", "flex") if values.get(n))
    if named:
        text.add_row(Text(details.table.title), Text(named, "bold"))
    text.add_row(Text("" if named else details.table.title), Text(details.key, "" if named else "bold"))
    fields = [f for f in details.table.fields if values.get(f.name) is not None and f.name not in ("maker", "model")]
    published = ", as published" if details.table.name == "shaft" else ""
    _section(
        text,
        f"Values{published}",
        (
            (f.title, f"{plain(values[f.name])}{' ' + unit_label(f.unit) if f.unit else ''}")
            for f in fields
            if f.name not in details.table.primary_key
        ),
    )
    unknown = [f.title for f in details.table.fields if values.get(f.name) is None]
    if unknown:
        _section(text, "Not known", [("", ", ".join(unknown))])
    if details.readings:
        _section(text, "Readings", (_reading(r) for r in details.readings))
    if details.used:
        _section(text, "What the mechanics use", (_used(u) for u in details.used))
    if details.assumed:
        _section(text, "Assumed", [("", line) for line in details.assumed])
    if details.settings:
        names = [n for n in details.settings[0] if n not in ("adapter_id", "setting")]
        _section(
            text,
            "Settings",
            ((str(s["setting"]), ", ".join(f"{n} {plain(s[n])}" for n in names if s[n])) for s in details.settings),
        )
    if details.shelf is not None:
        _section(text, "Stock and supply", [("", _shelf(details))])
    if details.referred_by:
        _section(
            text,
            "Referred to by",
            ((counted(r.count, load_schema().table(r.kind)), ", ".join(r.keys)) for r in details.referred_by),
        )
    if details.last_change is not None:
        line = details.last_change
        by = f" by {line.by}" if line.by else ""
        why = f" ({line.why})" if line.why else ""
        when = line.at.astimezone().strftime("%Y-%m-%d %H:%M") if isinstance(line.at, dt.datetime) else line.at
        _section(text, "Last change", [("", f"{line.change_no}, {when}{by}{why}")])
    return text


def _section(text: Table, title: str, lines: Iterable[tuple[str, str]]) -> None:
    """Add lines under a heading; the heading stands in the place of the first label, where that is empty."""
    text.add_row()
    for n, (label, value) in enumerate(lines):
        if n == 0 and label:
            text.add_row(Text(title, "bold"))
        text.add_row(Text(f"  {label}") if label else Text(title if n == 0 else "", "bold"), Text(value))


def _reading(r: ReadingSummary) -> tuple[str, str]:
    unit = unit_label(r.unit)
    spread = f"{r.low:.5g}" if r.low == r.high else f"{r.low:.5g} to {r.high:.5g}"
    stations = f", {r.stations_in[0]:g} to {r.stations_in[1]:g} in" if r.stations_in else ""
    pieces = f" on {r.pieces} piece{'s' if r.pieces != 1 else ''}" if r.pieces else ""
    count = f"{r.readings} reading{'s' if r.readings != 1 else ''}"
    return f"{r.quantity}, {r.source}", f"{spread} {unit}{stations} ({count}{pieces})"


def _used(u: UsedValue) -> tuple[str, str]:
    if u.value is None:
        return u.name, u.origin
    spread = f" ± {u.sd:.2g}" if u.sd else ""
    return u.name, f"{u.value:.5g}{spread} {unit_label(u.unit)}, from {u.origin}"


def _shelf(details: Details) -> str:
    shelf = details.shelf
    if shelf is None:
        return ""
    parts = [shelf.words]
    if shelf.backordered:
        parts.append("backordered")
    if shelf.ordered:
        parts.append(f"{shelf.ordered} on order")
    if shelf.expected_on:
        parts.append(f"expected {shelf.expected_on.isoformat()}")
    return ", ".join(parts)


class DetailsScreen(RowActions, PlaceScreen):
    """Everything about one item.

    Parameters
    ----------
    kind, key : str
        The item.
    """

    place = "details"
    ACTIONS = (
        Action("back", "escape", "back", "Go back to the list."),
        *ROW_ACTIONS,
        Action("scroll(-1)", "up", "up", "Scroll up.", shown=False),
        Action("scroll(1)", "down", "down", "Scroll down.", shown=False),
    )
    DEFAULT_CSS = """
    DetailsScreen VerticalScroll { padding: 0 1; scrollbar-size-vertical: 1; }
    DetailsScreen Static { height: auto; max-width: 110; }
    """

    def __init__(self, kind: str, key: str) -> None:
        super().__init__()
        self._kind = kind
        self._key = key

    def compose(self) -> ComposeResult:
        """The text."""
        with VerticalScroll():
            yield Static("Loading …", markup=False)

    def on_mount(self) -> None:
        """Get the item."""
        self.query_one(VerticalScroll).focus()
        self._load()

    def row_meant(self) -> tuple[str, str | None]:
        """The item."""
        return self._kind, self._key

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave out what does not go with the kind."""
        allowed = self.row_action_allowed(action)
        return super().check_action(action, parameters) if allowed is None else allowed

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the hook)
        """Get the item again."""
        self._load()

    def _load(self) -> None:
        from specdb.verbs.catalogue.details import details_of

        self.work(
            lambda: describe(details_of(self.desk.catalogue, self._kind, self._key)),
            self.query_one(Static).update,
            group="load",
            what="get the item",
        )

    def action_scroll(self, lines: int) -> None:
        """Scroll the text."""
        self.query_one(VerticalScroll).scroll_relative(y=lines, animate=False)
