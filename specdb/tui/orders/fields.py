"""The fields and lines of an order that is typed: opened, kept as a draft, checked while typing, gone about in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.timer import Timer
from textual.widgets import Static

from specdb.errors import SpecdbError
from specdb.tui.base import PlaceScreen
from specdb.tui.orders import drafts
from specdb.tui.orders.line_entry import ClubOrSetPicker, LineEntry
from specdb.tui.widgets.columns import plain
from specdb.tui.widgets.entry import EntryInput, FieldEntry
from specdb.tui.widgets.words import who
from specdb.verbs.catalogue.forms import as_typed, form_of
from specdb.verbs.orders.entry import LineRead, OpenedOrder, next_order_number, open_order, read_lines

FIELDS = ("customer", "wanted_on", "notes")
NOT_SAVED = "Not saved"
_CHECK_SECONDS = 0.35


class OrderFields(PlaceScreen):
    """The fields and lines of an order; saving it is the form's.

    Parameters
    ----------
    order_id : str or None
        The order; None for a new one.
    draft : OrderDraft or None
        One half typed to go on with.
    """

    DEFAULT_CSS: ClassVar[str] = """
    OrderFields .order--title { height: 1; padding: 0 1; text-style: bold; }
    OrderFields .order--banner { height: auto; padding: 0 1; color: $warning; text-style: bold; display: none; }
    OrderFields .order--heading { height: 1; padding: 0 1; margin-top: 1; color: $accent; text-style: bold; }
    OrderFields #fields { height: 1fr; scrollbar-size-vertical: 1; }
    OrderFields #lines { height: auto; }
    OrderFields .order--journal { dock: bottom; height: 1; margin-bottom: 1; padding: 0 1; background: $panel; }
    OrderFields .order--journal > Static { width: auto; color: $foreground; }
    OrderFields .order--journal > #why { width: 1fr; }
    OrderFields .order--journal > #by { width: 22; margin-left: 0; }
    """

    def __init__(self, order_id: str | None = None, *, draft: drafts.OrderDraft | None = None) -> None:
        super().__init__()
        self._order_id = order_id
        self._given = draft
        self._opened: OpenedOrder | None = None
        self._draft = draft.name if draft is not None else drafts.fresh_name(order_id)
        self._begun: tuple[object, ...] | None = None
        self._late: Timer | None = None
        self._said = ""  # above the fields
        self._saving = self._done = False

    def _close(self) -> None:
        """Leave the form."""
        raise NotImplementedError

    # ---- opening

    def compose(self) -> ComposeResult:
        """Fields, lines, and who does it."""
        yield Static(self._title(), classes="order--title", markup=False)
        yield Static("", classes="order--banner", markup=False)
        form = form_of("order")
        with VerticalScroll(id="fields", can_focus=False):
            if self._order_id is None:
                yield FieldEntry(form, form.field("id"))
            for name in FIELDS:
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
            texts, lines = texts_of(opened)
        self._fill(texts, lines)
        for entry in self.query(FieldEntry):
            entry.opened_text = texts.get(entry.name_, "")
            entry.check()
        self._begun = state_of(texts, lines)
        if draft is not None:
            self._draft, self._opened = draft.name, draft.opened
            if draft.opened is not None:  # what somebody changed since is seen when it is saved
                self._begun = state_of(*texts_of(draft.opened))
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
        return state_of({e.name_: e.text for e in self.query(FieldEntry)}, self._draft_lines())

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
        if self._said.startswith(NOT_SAVED):
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
        catalogue, asked = self.desk.catalogue, [(e.text, e.count or 1) for e in self.lines if e.text]
        order_id = self._order_id
        fresh = order_id is None

        def job() -> tuple[list[tuple[str, LineRead]], str]:
            texts = [text for text, _ in asked]
            reads = list(zip(texts, read_lines(catalogue, asked, order_id), strict=True)) if asked else []
            return reads, next_order_number(catalogue) if fresh else ""

        self.work(job, self._checked, group="check", what="check the lines", failed=lambda _: None)

    def _checked(self, found: tuple[list[tuple[str, LineRead]], str]) -> None:
        reads, number = found
        for entry, (text, read) in zip([e for e in self.lines if e.text], reads, strict=False):
            if entry.text == text:  # else something was typed meanwhile, and it is checked again
                entry.know(text, read)
        if number:
            self.field("id").suggest(f"will be {number}")

    def _say(self, text: str) -> None:
        self._said = text
        banner = self.query_one(".order--banner", Static)
        banner.update(text)
        banner.display = bool(text)

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

    def action_new_club(self) -> None:
        """Enter a club that is not there yet; saved, it comes onto the line of the cursor, or the next empty one."""
        from specdb.tui.forms.screen import form_screen

        lines = self.lines
        if not lines:
            return
        line = self._focused_line() or lines[-1]
        if self._is_known(line):
            line = lines[-1]
        begun, customer = line.text, self.field("customer").text.strip()
        preset = {"player": customer} if customer else {}
        if begun and not begun.count(" "):
            preset["id"] = begun

        def kept(key: str) -> None:
            at = line if line.is_attached and line.text == begun else self.lines[-1]
            at.put(key)
            at.quantity.focus()

        self._keep_draft()
        self.app.push_screen(form_screen("club", preset=preset, kept=kept))

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


def texts_of(opened: OpenedOrder) -> tuple[dict[str, str], list[drafts.DraftLine]]:
    """What stands in the fields and lines of an order that is opened.

    Parameters
    ----------
    opened : OpenedOrder
        The order.
    """
    texts = {name: plain(as_typed(opened.head(name))) if opened.head(name) is not None else "" for name in FIELDS}
    lines = [drafts.DraftLine(o.line, o.club_id or o.set_id or "", str(o.quantity)) for o in opened.lines]
    return texts, lines


def state_of(texts: Mapping[str, str], lines: Sequence[drafts.DraftLine]) -> tuple[object, ...]:
    """What is typed, to be compared.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in the fields.
    lines : sequence of DraftLine
        Its lines.
    """
    typed = tuple((n, t.strip()) for n, t in sorted(texts.items()) if t.strip())
    return typed, tuple(one for one in lines if one.what or one.line is not None)
