"""Orders half typed: kept on every change, brought back after a crash, else one key away."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.words import moment
from specdb.verbs.orders.entry import OpenedOrder

if TYPE_CHECKING:
    from specdb.tui.base import Working
    from specdb.tui.memory import Memory

_BEGIN = "order entry/"
_FIELDS = ("id", "customer", "wanted_on", "notes")


@dataclass(frozen=True, slots=True)
class DraftLine:
    """A line half typed.

    Attributes
    ----------
    line : int or None
        Its number in the order.
    what, quantity : str
        What stands in it.
    """

    line: int | None
    what: str
    quantity: str


@dataclass(frozen=True, slots=True)
class OrderDraft:
    """An order half typed.

    Attributes
    ----------
    name : str
        Its name in the memory.
    order_id : str or None
        The order; None for a new one.
    texts : mapping of str to str
        What stands in the fields.
    lines : tuple of DraftLine
        Its lines.
    opened : OpenedOrder or None
        The order as it was when it was opened.
    stands : bool
        Whether it was on the screen when it was last typed in.
    when : str
        When that was, as ISO 8601 in UTC.
    """

    name: str
    order_id: str | None
    texts: Mapping[str, str]
    lines: tuple[DraftLine, ...]
    opened: OpenedOrder | None = None
    stands: bool = True
    when: str = ""


def fresh_name(order_id: str | None) -> str:
    """A name for the draft of a form that is being opened.

    Parameters
    ----------
    order_id : str or None
        The order; None for a new one.
    """
    return f"{_BEGIN}{'new' if order_id is None else f'={order_id}'}/{uuid.uuid4().hex[:12]}"


def keep(memory: Memory, draft: OrderDraft) -> None:
    """Keep a draft; it is on the disk within half a second.

    Parameters
    ----------
    memory : Memory
        What is remembered.
    draft : OrderDraft
        The draft.
    """
    values = {
        "texts": json.dumps(dict(draft.texts)),
        "lines": json.dumps([asdict(line) for line in draft.lines]),
        "stands": "yes" if draft.stands else "no",
        "when": dt.datetime.now(dt.UTC).isoformat(),
    }
    if draft.opened is not None:
        values["opened"] = json.dumps(asdict(draft.opened), default=str)
    memory.keep_draft(draft.name, values)


def half_typed(memory: Memory, order_id: str | None = None) -> list[OrderDraft]:
    """Orders half typed that are not being typed in another terminal, the latest first.

    Parameters
    ----------
    memory : Memory
        What is remembered.
    order_id : str or None
        Only of this order; all where None.
    """
    names = [n for n in memory.drafts() if n.startswith(_BEGIN)]
    found = [d for d in (_read(memory, name) for name in names) if d is not None]
    if order_id is not None:
        found = [d for d in found if d.order_id == order_id]
    return sorted(found, key=lambda d: d.when, reverse=True)


def _read(memory: Memory, name: str) -> OrderDraft | None:
    values = memory.draft(name)
    which = name.removeprefix(_BEGIN).rpartition("/")[0]
    if values is None:
        return None
    try:
        texts = json.loads(values["texts"])
        lines = tuple(DraftLine(one["line"], one["what"], one["quantity"]) for one in json.loads(values["lines"]))
        opened = _opened(json.loads(values["opened"])) if "opened" in values else None
    except (ValueError, KeyError, TypeError):
        return None  # of another version
    if which != "new" and opened is None:
        return None
    return OrderDraft(
        name,
        None if which == "new" else which.removeprefix("="),
        {n: str(t) for n, t in texts.items() if n in _FIELDS},
        lines,
        opened,
        values.get("stands") == "yes",
        values.get("when", ""),
    )


def _opened(held: Mapping[str, Any]) -> OpenedOrder:
    from specdb.records.rows import Order, OrderLine

    days = {n: v and dt.date.fromisoformat(v) for n, v in held["order"].items() if n in ("wanted_on", "taken_on")}
    return OpenedOrder(Order(**{**held["order"], **days}), tuple(OrderLine(**line) for line in held["lines"]))


def bring_back(screen: Working[Any]) -> None:
    """Open the order that stood on the screen when a terminal died, or say that some are half typed.

    Parameters
    ----------
    screen : Working
        The screen it is opened over.
    """
    found = half_typed(screen.memory)
    left = [d for d in found if d.stands]
    if left:
        _open(screen, left[0])
    elif found:
        many = "1 order is" if len(found) == 1 else f"{len(found)} orders are"
        screen.notify(f"{many} half typed; d goes on with {'it' if len(found) == 1 else 'one'}.")


def go_on(screen: Working[Any]) -> None:
    """Choose an order that is half typed, and go on with it.

    Parameters
    ----------
    screen : Working
        Where it was asked for.
    """
    found = half_typed(screen.memory)
    if not found:
        screen.notify("No order is half typed.")
    elif len(found) == 1:
        _open(screen, found[0])
    else:
        from specdb.tui.dialogs.chooser import Chooser

        rows = [(d.name, _what(d), d.texts.get("customer", ""), _when(d)) for d in found]
        columns = [ColumnSpec("what", "Order"), ColumnSpec("for", "For", width=30), ColumnSpec("when", "Typed")]
        by_name = {d.name: d for d in found}

        def chosen(name: str | None) -> None:
            if name is not None:
                _open(screen, by_name[name])

        screen.app.push_screen(Chooser("Half typed", columns, rows), chosen)


def _open(screen: Working[Any], draft: OrderDraft) -> None:
    from specdb.tui.orders.form import OrderForm

    screen.app.push_screen(OrderForm(draft.order_id, draft=draft, kept=getattr(screen, "show_order", None)))


def _what(draft: OrderDraft) -> str:
    lines: Sequence[DraftLine] = [line for line in draft.lines if line.what]
    first = lines[0].what if lines else "no line yet"
    return draft.order_id or f"new: {first}" + (f" and {len(lines) - 1} more" if len(lines) > 1 else "")


def _when(draft: OrderDraft) -> str:
    try:
        return moment(dt.datetime.fromisoformat(draft.when))
    except ValueError:
        return ""
