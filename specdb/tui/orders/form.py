"""Entering an order with its lines on one screen, and changing one; nothing is lost, nothing written over."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.widget import Widget

from specdb.errors import SpecdbError
from specdb.tui.actions import Action
from specdb.tui.dialogs.ask import Way, WaysDialog
from specdb.tui.orders import drafts
from specdb.tui.orders.differs import differences_text
from specdb.tui.orders.fields import FIELDS, NOT_SAVED, OrderFields, state_of, texts_of
from specdb.tui.orders.line_entry import LineEntry
from specdb.tui.widgets.entry import EntryInput, FieldEntry
from specdb.tui.widgets.words import listed, remember_who
from specdb.units.writing import begun
from specdb.verbs.orders.checks import Wanted
from specdb.verbs.orders.entry import (
    EntryLine,
    KeptOrder,
    LineRead,
    OpenedOrder,
    OrderEntry,
    Whose,
    keep_order,
    open_order,
    read_lines,
)


class OrderForm(OrderFields):
    """An order with its lines.

    Parameters
    ----------
    order_id : str or None
        The order; None for a new one.
    draft : OrderDraft or None
        One half typed to go on with.
    kept : callable or None
        Called with the number of the order when it was saved.
    """

    place = "order form"
    ACTIONS: ClassVar[Sequence[Action]] = (
        Action("save", "ctrl+s", "save", "Save the order with its lines, as one change.", priority=True),
        Action("enter", "enter", "list or next", "Show the clubs and sets to choose from; else go to the next field.",
               priority=True),
        Action("new_club", "ctrl+l", "new club", "Enter a club that is not there yet; it comes onto the line.",
               priority=True),
        Action("remove", "ctrl+d", "remove line", "Take the line of the cursor out of the order.", priority=True),
        Action("leave", "escape", "back", "Go back; asks about what is not saved.", priority=True),
        Action("another", "ctrl+n", "and another", "Save, and begin the next order.", priority=True),
        Action("field(1)", "tab", "next field", "Go to the next field.", shown=False, priority=True),
        Action("field(-1)", "shift+tab", "field before", "Go to the field before.", shown=False, priority=True),
        Action("row(1)", "down", "row down", "Go to the field below.", shown=False, priority=True),
        Action("row(-1)", "up", "row up", "Go to the field above.", shown=False, priority=True),
    )  # fmt: skip

    def __init__(
        self,
        order_id: str | None = None,
        *,
        draft: drafts.OrderDraft | None = None,
        kept: Callable[[str], None] | None = None,
    ) -> None:
        super().__init__(order_id, draft=draft)
        self._kept = kept
        self._typed_in: Widget | None = None  # where one was when it was being saved

    # ---- saving

    def action_save(self, then: Callable[[str], None] | None = None, whose: Whose = "ask") -> None:
        """Save the order, if all of it can be taken."""
        if self._saving or self._done or self._begun is None:
            return
        if not self.is_changed and self._order_id is not None:
            self.notify("Nothing was changed.")
            return
        wrong = self._wrong()
        if wrong:
            self._refused(*wrong)
            return
        entry, asked = self._entry(), [(e.text, e.count or 1) for e in self.lines if not e.is_empty]
        self._hold(saving=True)
        catalogue, opened = self.desk.catalogue, self._opened
        why, by = self.query_one("#why", EntryInput).value.strip() or None, self.query_one("#by", EntryInput).value
        remember_who(self.memory, by)

        def save() -> KeptOrder | list[LineRead]:
            reads = read_lines(catalogue, asked)
            if any(r.wanted is None for r in reads):
                return reads
            lines = tuple(
                EntryLine(e.line, Wanted(r.wanted.club_id, r.wanted.set_id, e.wanted.quantity))
                for e, r in zip(entry.lines, reads, strict=True)
                if r.wanted is not None
            )
            whole = OrderEntry(
                order_id=entry.order_id,
                customer=entry.customer,
                wanted_on=entry.wanted_on,
                notes=entry.notes,
                lines=lines,
            )
            return keep_order(catalogue, whole, opened, whose=whose, by=by.strip() or None, why=why)

        self.work(
            save,
            lambda kept: self._saved(kept, then),
            group="save",
            what="save the order",
            failed=self._not_saved,
            changes=True,
        )

    def _wrong(self) -> tuple[FieldEntry | LineEntry, str] | None:
        """The first thing that is wrong, and what it is called."""
        for entry in self.query(FieldEntry):
            if entry.name_ == "id" and not entry.text.strip():
                continue
            if not entry.check():
                return entry, entry.field.label
        lines = [e for e in self.lines if not e.is_empty]
        for number, line in enumerate(lines, start=1):
            if line.error:
                return line, f"line {number}"
        if not lines:
            self.lines[-1].refuse("An order needs a club or a set: enter shows them.")
            return self.lines[-1], "clubs and sets"
        return None

    def _entry(self) -> OrderEntry:
        values = {name: self.field(name).read.value for name in FIELDS}
        lines = [EntryLine(e.line, Wanted(quantity=e.count or 1)) for e in self.lines if not e.is_empty]
        number = self.field("id").text.strip() if self._order_id is None else self._order_id
        return OrderEntry(order_id=number or None, lines=tuple(lines), **values)

    def _refused(self, entry: FieldEntry | LineEntry, name: str) -> None:
        self._say(f"{NOT_SAVED}: look at {name}.")
        (entry.input if isinstance(entry, FieldEntry) else entry.what).focus()

    def _hold(self, *, saving: bool) -> None:
        """While it is being saved nothing can be typed, so that nothing typed is lost."""
        if saving:
            self._typed_in = self.focused
        self._saving = saving
        self.query_one("#fields").disabled = saving
        if not saving and self._typed_in is not None and self.focused is None:
            self._typed_in.focus()
        self._say("Saving …" if saving else "")

    def _not_saved(self, error: SpecdbError) -> None:
        self._hold(saving=False)
        text = str(error)
        said = f"{begun(text)}."
        if self._order_id is None and "already" in text and self.field("id").text.strip():
            self.field("id").say(said)
            self._refused(self.field("id"), "the number")
        else:
            self._say(f"{NOT_SAVED}: {said}")

    def _saved(self, kept: KeptOrder | list[LineRead], then: Callable[[str], None] | None) -> None:
        self._hold(saving=False)
        typed = [e for e in self.lines if not e.is_empty]
        if isinstance(kept, list):
            for line, read in zip(typed, kept, strict=True):
                line.know(line.text, read)
            self._refused(next(e for e in typed if e.error), "the line that is marked")
        elif kept.action == "refused":
            refused = dict(kept.refused or {})
            whole = refused.pop(-1, "")
            for place, why in refused.items():
                typed[place].refuse(why)
            if refused:
                self._refused(typed[min(refused)], "the line that is marked")
            if whole:
                self._say(f"{NOT_SAVED}: {whole}")
        elif kept.action == "differs":
            ways = (
                Way("mine", "m", "What I typed counts where both changed the same"),
                Way("theirs", "t", "What the other changed counts there"),
            )
            dialog = WaysDialog("Changed meanwhile", differences_text(kept.differences), ways)
            self.app.push_screen(dialog, lambda way: self._decided(way, then))
        elif kept.action == "gone":
            self._say(f"{NOT_SAVED}: somebody took this order away while it was open.")
        else:
            self._finished(kept, then)

    def _decided(self, way: str | None, then: Callable[[str], None] | None) -> None:
        if way == "mine":
            self.action_save(then, "mine")
        elif way == "theirs":
            self.action_save(then, "theirs")
        else:
            self._say("Somebody else changed this order; nothing is saved yet.")

    def _finished(self, kept: KeptOrder, then: Callable[[str], None] | None) -> None:
        self._done = True
        self.memory.drop_draft(self._draft)
        theirs = [d.what.replace("_", " ") for d in kept.differences if not d.contested]
        beside = f" Changed meanwhile by somebody else, and left so: {listed(theirs)}." if theirs else ""
        if kept.change_no is None:
            self.notify(f"Order {kept.order_id} stands so already.{beside}", markup=False)
        else:
            done = "taken" if kept.action == "added" else "changed"
            self.notify(f"Order {kept.order_id} {done}. ^z takes it back.{beside}", markup=False, timeout=6)
        if self._kept is not None:
            self._kept(kept.order_id)
        if then is not None:
            then(kept.order_id)
        else:
            self._close()

    # ---- going elsewhere

    def _close(self) -> None:
        self._done = True
        if self._late is not None:
            self._late.stop()
        if self.app.screen is self:
            self.app.pop_screen()

    def action_another(self) -> None:
        """Save, and begin the next order."""

        def begin(_: str) -> None:
            self.app.switch_screen(OrderForm(kept=self._kept))

        self.action_save(begin)

    def action_leave(self) -> None:
        """Go back, after asking about what is not saved."""
        if self._saving:
            self.notify("It is being saved; a moment.")
        elif not self.is_changed:
            self.memory.drop_draft(self._draft)
            self._close()
        else:
            ways = (
                Way("save", "s", "Save it"),
                Way("keep", "k", "Close and keep it half typed, to go on later (d in the list)"),
                Way("drop", "t", "Throw away what was typed"),
            )
            dialog = WaysDialog("Not saved", "What is typed of this order is not saved yet.", ways)
            self.app.push_screen(dialog, self._leave)

    def _leave(self, way: str | None) -> None:
        if way == "save":
            self.action_save()
        elif way == "keep":
            self._keep_draft(stands=False)
            self._close()
        elif way == "drop":
            self.memory.drop_draft(self._draft)
            self._close()

    # ---- another changed it

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the hook)
        """Say that somebody changed the order; where nothing is typed, show it as it stands."""
        order, opened, catalogue = self._order_id, self._opened, self.desk.catalogue
        self._check_soon()
        if order is None or opened is None or self._done or self._saving:
            return

        def seen(now: OpenedOrder) -> None:
            if now == opened or self._done or self._saving:
                return
            if self.is_changed:
                self._say("Somebody else has just changed this order; where both changed the same you will be asked.")
            else:
                self._opened = now
                texts, lines = texts_of(now)
                self._fill(texts, lines)
                self._begun = state_of(texts, lines)

        self.work(
            lambda: open_order(catalogue, order), seen, group="look", what="look at the order", failed=lambda _: None
        )
