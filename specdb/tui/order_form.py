"""Entering an order with its lines on one screen, and changing one; nothing is lost, nothing written over."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.timer import Timer
from textual.widgets import Static

from specdb.errors import SpecdbError
from specdb.tui import order_drafts as drafts
from specdb.tui.actions import Action
from specdb.tui.ask import Way, WaysDialog
from specdb.tui.base import PlaceScreen
from specdb.tui.columns import plain
from specdb.tui.entry import EntryInput, FieldEntry
from specdb.tui.order_differs import differences_text
from specdb.tui.order_line_entry import ClubOrSetPicker, LineEntry
from specdb.tui.words import listed, remember_who, who
from specdb.verbs.forms import as_typed, form_of
from specdb.verbs.order_checks import Wanted
from specdb.verbs.order_entry import (
    EntryLine,
    KeptOrder,
    LineRead,
    OpenedOrder,
    OrderEntry,
    Whose,
    keep_order,
    next_order_number,
    open_order,
    read_lines,
)

_FIELDS = ("customer", "wanted_on", "notes")
_NOT_SAVED = "Not saved"
_CHECK_SECONDS = 0.35


class OrderForm(PlaceScreen):
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
        Action("remove", "ctrl+d", "remove line", "Take the line of the cursor out of the order.", priority=True),
        Action("leave", "escape", "back", "Go back; asks about what is not saved.", priority=True),
        Action("another", "ctrl+n", "and another", "Save, and begin the next order.", priority=True),
        Action("field(1)", "tab", "next field", "Go to the next field.", shown=False, priority=True),
        Action("field(-1)", "shift+tab", "field before", "Go to the field before.", shown=False, priority=True),
        Action("row(1)", "down", "row down", "Go to the field below.", shown=False, priority=True),
        Action("row(-1)", "up", "row up", "Go to the field above.", shown=False, priority=True),
    )  # fmt: skip
    DEFAULT_CSS = """
    OrderForm .order--title { height: 1; padding: 0 1; text-style: bold; }
    OrderForm .order--banner { height: auto; padding: 0 1; color: $warning; text-style: bold; display: none; }
    OrderForm .order--heading { height: 1; padding: 0 1; margin-top: 1; color: $accent; text-style: bold; }
    OrderForm #fields { height: 1fr; scrollbar-size-vertical: 1; }
    OrderForm #lines { height: auto; }
    OrderForm .order--journal { dock: bottom; height: 1; margin-bottom: 1; padding: 0 1; background: $panel; }
    OrderForm .order--journal > Static { width: auto; color: $foreground; }
    OrderForm .order--journal > #why { width: 1fr; }
    OrderForm .order--journal > #by { width: 22; margin-left: 0; }
    """

    def __init__(
        self,
        order_id: str | None = None,
        *,
        draft: drafts.OrderDraft | None = None,
        kept: Callable[[str], None] | None = None,
    ) -> None:
        super().__init__()
        self._order_id = order_id
        self._given = draft
        self._kept = kept
        self._opened: OpenedOrder | None = None
        self._draft = draft.name if draft is not None else drafts.fresh_name(order_id)
        self._begun: tuple[object, ...] | None = None
        self._late: Timer | None = None
        self._said = ""  # above the fields
        self._saving = self._done = False

    # ---- opening

    def compose(self) -> ComposeResult:
        """Fields, lines, and who does it."""
        yield Static(self._title(), classes="order--title", markup=False)
        yield Static("", classes="order--banner", markup=False)
        form = form_of("order")
        with VerticalScroll(id="fields", can_focus=False):
            if self._order_id is None:
                yield FieldEntry(form, form.field("id"))
            for name in _FIELDS:
                yield FieldEntry(form, form.field(name))
            yield Static("Clubs and sets", classes="order--heading", markup=False)
            yield Vertical(id="lines")
        with Horizontal(classes="order--journal"):
            yield Static("Why (if worth a word) ", markup=False)
            yield EntryInput(id="why", compact=True, max_length=500)
            yield Static(" By ", markup=False)
            yield EntryInput(who(self.memory), id="by", compact=True, max_length=120)

    def _title(self) -> str:
        if self._order_id is None:
            return "New order"
        state = f", {self._opened.order.state.replace('_', ' ')}" if self._opened is not None else ""
        return f"Order {self._order_id}{state}"

    def on_mount(self) -> None:
        """Get the order, or begin a new one."""
        self.field("customer").input.focus()
        catalogue, order = self.desk.catalogue, self._order_id
        if order is None:
            self._begin(None)
            return
        self.work(
            lambda: open_order(catalogue, order), self._begin, group="open", what="open the order", failed=self._lost
        )

    def _lost(self, error: SpecdbError) -> None:
        self.specdb.tell_error(error)
        self._close()

    def _begin(self, opened: OpenedOrder | None) -> None:
        draft = self._given
        if draft is None and self._order_id is not None:
            draft = next(iter(drafts.half_typed(self.memory, self._order_id)), None)
        self._opened = opened
        texts: dict[str, str] = {}
        lines: list[drafts.DraftLine] = []
        if opened is not None:
            texts, lines = _texts(opened)
        self._fill(texts, lines)
        for entry in self.query(FieldEntry):
            entry.opened_text = texts.get(entry.name_, "")
            entry.check()
        self._begun = _state_of(texts, lines)
        if draft is not None:
            self._draft, self._opened = draft.name, draft.opened
            if draft.opened is not None:  # what somebody changed since is seen when it is saved
                self._begun = _state_of(*_texts(draft.opened))
            self._fill({**texts, **draft.texts}, list(draft.lines))
            self._say("What was half typed before has come back; it is not saved yet.")
            self._keep_draft()
        self.query_one(".order--title", Static).update(self._title())
        self._check_soon()

    def _fill(self, texts: Mapping[str, str], lines: Sequence[drafts.DraftLine]) -> None:
        for entry in self.query(FieldEntry):
            if draft_text := texts.get(entry.name_, ""):
                entry.put(draft_text)
        box = self.query_one("#lines", Vertical)
        box.remove_children()
        shown = [one for one in lines if one.what or one.line is not None]
        box.mount_all([*(LineEntry(one.line, one.what, one.quantity) for one in shown), LineEntry()])

    # ---- what is typed

    def field(self, name: str) -> FieldEntry:
        """The entry of a field.

        Parameters
        ----------
        name : str
            The field.
        """
        return self.query_one(f"#field-{name}", FieldEntry)

    @property
    def lines(self) -> list[LineEntry]:
        """The lines, the empty one at the end too."""
        return list(self.query_one("#lines").query(LineEntry))

    def _draft_lines(self) -> list[drafts.DraftLine]:
        return [drafts.DraftLine(e.line, e.text, e.quantity.value.strip()) for e in self.lines]

    def _state(self) -> tuple[object, ...]:
        return _state_of({e.name_: e.text for e in self.query(FieldEntry)}, self._draft_lines())

    @property
    def is_changed(self) -> bool:
        """Whether something stands here that is not saved."""
        return self._begun is not None and self._state() != self._begun

    @on(FieldEntry.Typed)
    def _typed(self, message: FieldEntry.Typed) -> None:
        message.stop()
        self._changed()

    @on(LineEntry.Typed)
    def _line_typed(self, message: LineEntry.Typed) -> None:
        message.stop()
        lines = self.lines
        if lines and message.entry is lines[-1] and not message.entry.is_empty:
            self.query_one("#lines", Vertical).mount(LineEntry())
        self._mark_twice()
        self._changed()

    def _mark_twice(self) -> None:
        seen: dict[str, int] = {}
        for number, entry in enumerate(self.lines, start=1):
            first = seen.setdefault(entry.text, number) if entry.text else number
            entry.twice("" if first == number else f"It stands {number - first} above already: raise the number there.")

    def _changed(self) -> None:
        if self._begun is None or self._done:
            return
        if self._said.startswith(_NOT_SAVED):
            self._say("")
        self._keep_draft()
        self._check_soon()

    def _keep_draft(self, *, stands: bool = True) -> None:
        if not self.is_changed:
            self.memory.drop_draft(self._draft)
            return
        texts = {e.name_: e.text for e in self.query(FieldEntry)}
        draft = drafts.OrderDraft(
            self._draft, self._order_id, texts, tuple(self._draft_lines()), self._opened, stands=stands
        )
        drafts.keep(self.memory, draft)

    def _check_soon(self) -> None:
        if self._late is not None:
            self._late.stop()
        self._late = self.set_timer(_CHECK_SECONDS, self._check_now)

    def _check_now(self) -> None:
        catalogue, texts = self.desk.catalogue, list(dict.fromkeys(e.text for e in self.lines if e.text))
        fresh = self._order_id is None

        def job() -> tuple[dict[str, LineRead], str]:
            reads = dict(zip(texts, read_lines(catalogue, texts), strict=True)) if texts else {}
            return reads, next_order_number(catalogue) if fresh else ""

        self.work(job, self._checked, group="check", what="check the lines", failed=lambda _: None)

    def _checked(self, found: tuple[dict[str, LineRead], str]) -> None:
        reads, number = found
        for entry in self.lines:
            if entry.text in reads:
                entry.know(entry.text, reads[entry.text])
        if number:
            self.field("id").suggest(f"will be {number}")

    def _say(self, text: str) -> None:
        self._said = text
        banner = self.query_one(".order--banner", Static)
        banner.update(text)
        banner.display = bool(text)

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
        entry, names = self._entry(), [e.text for e in self.lines if not e.is_empty]
        self._saving = True
        catalogue, opened = self.desk.catalogue, self._opened
        why, by = self.query_one("#why", EntryInput).value.strip() or None, self.query_one("#by", EntryInput).value
        remember_who(self.memory, by)

        def save() -> KeptOrder | list[LineRead]:
            reads = read_lines(catalogue, names)
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
        values = {name: self.field(name).read.value for name in _FIELDS}
        lines = [EntryLine(e.line, Wanted(quantity=e.count or 1)) for e in self.lines if not e.is_empty]
        number = self.field("id").text.strip() if self._order_id is None else self._order_id
        return OrderEntry(order_id=number or None, lines=tuple(lines), **values)

    def _refused(self, entry: FieldEntry | LineEntry, name: str) -> None:
        self._say(f"{_NOT_SAVED}: look at {name}.")
        (entry.input if isinstance(entry, FieldEntry) else entry.what).focus()

    def _not_saved(self, error: SpecdbError) -> None:
        self._saving = False
        text = str(error)
        said = f"{text[:1].upper()}{text[1:]}."
        if self._order_id is None and "already" in text and self.field("id").text.strip():
            self.field("id").say(said)
            self._refused(self.field("id"), "the number")
        else:
            self._say(f"{_NOT_SAVED}: {said}")

    def _saved(self, kept: KeptOrder | list[LineRead], then: Callable[[str], None] | None) -> None:
        self._saving = False
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
                self._say(f"{_NOT_SAVED}: {whole}")
        elif kept.action == "differs":
            ways = (
                Way("mine", "m", "What I typed counts where both changed the same"),
                Way("theirs", "t", "What the other changed counts there"),
            )
            dialog = WaysDialog("Changed meanwhile", differences_text(kept.differences), ways)
            self.app.push_screen(dialog, lambda way: self._decided(way, then))
        elif kept.action == "gone":
            self._say(f"{_NOT_SAVED}: somebody took this order away while it was open.")
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

    # ---- going about in it

    def _focused_line(self) -> LineEntry | None:
        return next((e for e in self.lines if e.what.has_focus or e.quantity.has_focus), None)

    def action_field(self, step: int) -> None:
        """Go to the next field, or the one before."""
        if step > 0:
            self.focus_next(EntryInput)
        else:
            self.focus_previous(EntryInput)

    def action_row(self, step: int) -> None:
        """Go to the field below, or above; a list under the input keeps its keys."""
        rows: list[EntryInput] = [e.input for e in self.query(FieldEntry)]
        line = self._focused_line()
        second = line is not None and line.quantity.has_focus
        rows += [e.quantity if second else e.what for e in self.lines]
        rows.append(self.query_one("#why", EntryInput))
        at = next((i for i, entry in enumerate(rows) if entry.has_focus), len(rows) - 1)
        rows[min(max(at + step, 0), len(rows) - 1)].focus()

    def action_enter(self) -> None:
        """Show the clubs and sets, or go to the next field."""
        line = self._focused_line()
        if line is not None and line.what.has_focus and not self._is_known(line):
            self._show_list(line)
        else:
            self.focus_next(EntryInput)

    @staticmethod
    def _is_known(line: LineEntry) -> bool:
        return bool(line.text) and line.read_of == line.text and line.read.wanted is not None

    @on(LineEntry.ListWanted)
    def _list_wanted(self, message: LineEntry.ListWanted) -> None:
        message.stop()
        self._show_list(message.entry)

    def _show_list(self, line: LineEntry) -> None:
        def chosen(key: str | None) -> None:
            if key is None:
                line.what.focus()
                return
            line.put(key)
            line.quantity.focus()

        picker = ClubOrSetPicker()
        picker.begin = line.text
        self.app.push_screen(picker, chosen)

    def action_remove(self) -> None:
        """Take the line of the cursor out of the order."""
        line = self._focused_line()
        lines = self.lines
        if line is None or (line is lines[-1] and line.is_empty):
            self.notify("Go to the line that is to be removed first.")
            return
        at = lines.index(line)
        lines[at + 1].what.focus() if at + 1 < len(lines) else lines[0].what.focus()
        line.remove()
        self.call_after_refresh(self._removed)

    def _removed(self) -> None:
        self._mark_twice()
        self._changed()

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
                texts, lines = _texts(now)
                self._fill(texts, lines)
                self._begun = _state_of(texts, lines)

        self.work(
            lambda: open_order(catalogue, order), seen, group="look", what="look at the order", failed=lambda _: None
        )


def _texts(opened: OpenedOrder) -> tuple[dict[str, str], list[drafts.DraftLine]]:
    """What stands in the fields and lines of an order that is opened."""
    texts = {name: plain(as_typed(opened.head(name))) if opened.head(name) is not None else "" for name in _FIELDS}
    lines = [drafts.DraftLine(o.line, o.club_id or o.set_id or "", str(o.quantity)) for o in opened.lines]
    return texts, lines


def _state_of(texts: Mapping[str, str], lines: Sequence[drafts.DraftLine]) -> tuple[object, ...]:
    typed = tuple((n, t.strip()) for n, t in sorted(texts.items()) if t.strip())
    return typed, tuple(one for one in lines if one.what or one.line is not None)
