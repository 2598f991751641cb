"""A part that was spoilt at the bench: which one, what happened, and its booking; asked at the orders and in Build."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from specdb.tui.dialogs.chooser import Chooser
from specdb.tui.dialogs.words import Wanted, WordsDialog
from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.words import who

if TYPE_CHECKING:
    from specdb.errors import SpecdbError
    from specdb.orders.availability import NeedState
    from specdb.tui.base import Working

_TITLES = ("part", "club", "stands", "id")


def ask_for_spoilt(
    screen: Working[Any],
    order: str,
    states: Sequence[NeedState],
    then: Callable[[str], None],
    failed: Callable[[SpecdbError], None] | None = None,
) -> None:
    """Ask which part of an order was spoilt, and book it.

    Parameters
    ----------
    screen : Working
        Where it is asked.
    order : str
        The order.
    states : sequence of NeedState
        Parts that may be meant.
    then : callable
        Called with what is to be said once it is booked.
    failed : callable or None
        Called with what went wrong; told where None.
    """
    there = {f"{n}": s for n, s in enumerate(s for s in states if s.reserved or s.used or s.gone)}
    if not there:
        screen.app.notify(f"No part of that is kept for {order} or built in.", markup=False)
        return
    rows = [(key, s.need.kind, _club(s), _stands(s), s.need.item_id) for key, s in there.items()]

    def chosen(key: str | None) -> None:
        if key is not None:
            state = there[key]
            said = f"{state.need.kind} {state.need.item_id} for {_club(state)}, {_stands(state)}"
            ask = WordsDialog("Spoilt at the bench", [Wanted("why", "what happened")], said=said, check=_no_why)
            screen.app.push_screen(ask, lambda typed: book(state, typed))

    def book(state: NeedState, typed: Mapping[str, str] | None) -> None:
        if typed is None:
            return
        catalogue, by, why = screen.desk.catalogue, who(screen.memory) or None, typed["why"]

        def job() -> str:
            from specdb.verbs.orders.parts import Which, spoil_parts

            unit, part = state.unit, f"{state.need.kind}/{state.need.item_id}"
            which = Which((part,), unit.club_id, unit.line, unit.unit)
            done = spoil_parts(catalogue, order, which, every=True, by=by, why=why)
            pieces = "1 piece" if done.pieces == 1 else f"{done.pieces} pieces"
            return f"{order}: {pieces} booked as spoilt; the order needs it anew."

        screen.work(
            job, then, group="change", what="book a part as spoilt",
            failed=failed or screen.specdb.tell_error, changes=True,
        )  # fmt: skip

    screen.app.push_screen(Chooser("Which part was spoilt?", [ColumnSpec(t, t) for t in _TITLES], rows), chosen)


def _club(state: NeedState) -> str:
    return f"{state.unit.club_id} ({state.unit.line}.{state.unit.unit})"


def _stands(state: NeedState) -> str:
    return "built in" if state.used else "kept" if state.reserved else "kept, not there"


def _no_why(typed: Mapping[str, str]) -> str:
    return "" if typed["why"] else "Say in a few words what happened."
