"""Finishing an order: offered once every club is measured; one outside its tolerance needs a reason."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from specdb.tui.dialogs.undo import AskDialog
from specdb.tui.dialogs.words import Wanted, WordsDialog
from specdb.tui.widgets.words import who
from specdb.units.writing import as_sentence

if TYPE_CHECKING:
    from specdb.errors import SpecdbError
    from specdb.tui.base import Working
    from specdb.verbs.orders.changes import StateChange
    from specdb.verbs.orders.working import FinishLook

_LEFT = "Escape leaves it at the bench."


def ask_to_finish(screen: Working[Any], look: FinishLook, then: Callable[[], None]) -> None:
    """Finish an order, after saying how its clubs came out.

    Parameters
    ----------
    screen : Working
        Where it is offered.
    look : FinishLook
        How its clubs came out.
    then : callable
        Called when it is finished, or not.
    """
    catalogue, order, by = screen.desk.catalogue, look.order_id, who(screen.memory) or None
    said = as_sentence(look.offer)

    def finish(why: str | None) -> None:
        def job() -> StateChange:
            from specdb.verbs.orders.changes import set_order_state

            return set_order_state(catalogue, order, "finished", by=by, why=why)

        screen.work(job, tell, group="finish", what="finish the order", failed=refused, changes=True)

    def tell(done: StateChange) -> None:
        screen.notify("; ".join((f"{order} is finished", *done.notes)) + ".", markup=False)
        then()

    def refused(error: SpecdbError) -> None:
        screen.specdb.tell_error(error)
        then()

    def answered(yes: bool | None) -> None:
        if yes:
            finish(None)
        else:
            then()

    def typed(found: Mapping[str, str] | None) -> None:
        if found is None:
            then()
        else:
            finish(found["why"])

    if look.outside:
        wanted = [Wanted("why", "finish it, as", "", "e.g. the customer has tried it and wants it so")]
        dialog = WordsDialog(f"Outside tolerance: {order}", wanted, said=f"{said} {_LEFT}", check=_no_why)
        screen.app.push_screen(dialog, typed)
    else:
        screen.app.push_screen(AskDialog(f"Finish {order}?", said), answered)


def _no_why(typed: Mapping[str, str]) -> str:
    return "" if typed["why"] else "Say in a few words why it is right as it is."
