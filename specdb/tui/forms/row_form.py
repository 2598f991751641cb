"""The form of a row of any kind: add, change, add by copying; nothing half typed is lost, nothing written over."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.timer import Timer
from textual.widgets import Input, Static

from specdb.errors import FieldError, SpecdbError
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.dialogs.ask import Way, WaysDialog
from specdb.tui.dialogs.differs import MINE, DiffersDialog
from specdb.tui.forms import drafts
from specdb.tui.forms.body import FormBody
from specdb.tui.widgets.columns import plain
from specdb.tui.widgets.entry import EntryInput
from specdb.tui.widgets.words import form_title, listed, remember_who, who
from specdb.units.writing import begun
from specdb.verbs.catalogue.form_rows import Kept, OpenedRow, keep_row, missing_references, open_row, rebased
from specdb.verbs.catalogue.forms import Form, check_row, copy_of, derived_key, field_sentence, form_of, texts_of

_NOT_SAVED = "Not saved"
_CHECK_SECONDS = 0.4  # the row as a whole is checked when the typing pauses


class RowForm(PlaceScreen):
    """A form of a row.

    Parameters
    ----------
    kind : str
        Kind of the row.
    key : str or None
        The row; None for a new one.
    similar : str or None
        A row to copy a new one from.
    preset : mapping or None
        What stands in the fields of a new row at first.
    kept : callable or None
        Called with the key of the row when it was saved.
    draft : Draft or None
        A form half typed to go on with; of a row that is there, the latest one is taken up by itself.
    """

    place = "row form"
    ACTIONS: ClassVar[Sequence[Action]] = (
        Action("save", "ctrl+s", "save", "Save the row.", priority=True),
        Action("leave", "escape", "back", "Go back; asks about what is not saved.", priority=True),
        Action("another", "ctrl+n", "another like it", "Save, and begin a new row that is like this one.",
               priority=True),
        Action("history", "ctrl+t", "history", "Show what happened to this row, and undo it from there.",
               priority=True),
        Action("parts", "ctrl+r", "readings", "Show the readings of this shaft, or the settings of this adapter.",
               priority=True),
        # at once, before the next key: what is typed ahead must go to the next field
        Action("field(1)", "down,tab", "next field", "Go to the next field.", shown=False, priority=True),
        Action("field(-1)", "up,shift+tab", "field before", "Go to the field before.", shown=False, priority=True),
        Action("enter", "enter", "list or next", "Show the list of what the field takes; else go to the next field.",
               shown=False, priority=True),
        Action("section(1)", "pagedown", "next section", "Go to the next section.", shown=False, priority=True),
        Action("section(-1)", "pageup", "last section", "Go to the section before.", shown=False, priority=True),
        Action("edge(False)", "ctrl+home", "first field", "Go to the first field.", shown=False, priority=True),
        Action("edge(True)", "ctrl+end", "last field", "Go to the last field.", shown=False, priority=True),
    )  # fmt: skip
    DEFAULT_CSS = """
    RowForm .form--title { height: 1; padding: 0 1; text-style: bold; background: $background; }
    RowForm .form--banner { height: auto; padding: 0 1; color: $warning; text-style: bold; display: none; }
    RowForm .form--journal { dock: bottom; height: 1; margin-bottom: 1; padding: 0 1; background: $panel; }
    RowForm .form--journal > Static { width: auto; color: $foreground; }
    RowForm .form--journal > #why { width: 1fr; }
    RowForm .form--journal > #by { width: 22; margin-left: 0; }
    """

    def __init__(
        self,
        kind: str,
        key: str | None = None,
        *,
        similar: str | None = None,
        preset: Mapping[str, str] | None = None,
        kept: Callable[[str], None] | None = None,
        draft: drafts.Draft | None = None,
    ) -> None:
        super().__init__()
        self.form: Form = form_of(kind)
        self.key = key
        self._similar = similar
        self._preset = dict(preset or {})
        self._kept = kept
        self._opened: OpenedRow | None = None
        self._given = draft
        self._draft = drafts.fresh_name(self.form.kind, key)
        self._late: Timer | None = None
        self._said = ""  # above the fields
        self._sent: dict[str, str] = {}  # what stood in the fields when they were last sent to be saved
        self._tried = self._saving = self._done = False

    # ---- opening

    def compose(self) -> ComposeResult:
        """The frame; the fields come when the row is there."""
        yield Static(self._title(), classes="form--title", markup=False)
        yield Static("", classes="form--banner", markup=False)
        yield FormBody(self.form)
        with Horizontal(classes="form--journal"):
            yield Static("Why (if worth a word) ", markup=False)
            yield EntryInput(id="why", compact=True, max_length=500)
            yield Static(" By ", markup=False)
            yield EntryInput(who(self.memory), id="by", compact=True, max_length=120)

    @property
    def body(self) -> FormBody:
        """The fields."""
        return self.query_one(FormBody)

    def _title(self) -> str:
        shelf = self._opened.shelf if self._opened else None
        return form_title(self.form.table, self.key, self._similar, shelf, self.app.size.width)

    def _show_title(self) -> None:
        self.query_one(".form--title", Static).update(self._title())

    def on_resize(self) -> None:
        """Say as much as there is room for."""
        self._show_title()

    def on_mount(self) -> None:
        """Get the row."""
        row = self.key or self._similar
        if row is None:
            self._begin(None)
            return
        kind, catalogue = self.form.kind, self.desk.catalogue
        self.work(
            lambda: open_row(catalogue, kind, row), self._begin, group="open", what="open the row", failed=self._lost
        )

    def _lost(self, error: SpecdbError) -> None:
        self.specdb.tell_error(error)
        self._close()

    def _begin(self, row: OpenedRow | None) -> None:
        base: Mapping[str, Any] = {}
        if row is not None:
            base = row.values if self.key is not None else copy_of(self.form, row.values)
        texts = {**self._texts_of(base), **self._preset}
        base = {name: value for name, value in base.items() if name not in self._preset}
        self._opened = row if self.key is not None else None
        draft = self._given or (drafts.take_up(self.memory, self.form, self.key) if self.key is not None else None)
        if draft is not None:
            base, texts = self._take_up(draft, texts)
        self.body.fill(texts, base, row, key=self.key)
        if draft is not None:
            for name, text in draft.texts.items():
                self.body.entries[name].put(text)
            self._say("What was half typed before has come back; it is not saved yet.")
        self._show_title()
        self.actions_changed()
        self.body.first.input.focus()
        self._check_soon()

    def _take_up(self, draft: drafts.Draft, texts: Mapping[str, str]) -> tuple[Mapping[str, Any], dict[str, str]]:
        """What stood in the fields when the form that comes back was opened."""
        self._draft = draft.name
        drafts.keep(self.memory, draft)  # it is this terminal's now
        if draft.opened is not None and self._opened is not None:
            self._opened = rebased(self._opened, draft.opened)
            return draft.opened, self._texts_of(draft.opened)
        return {}, {**texts, **draft.base}

    def _texts_of(self, values: Mapping[str, Any]) -> dict[str, str]:
        return {name: plain(text) for name, text in texts_of(self.form, values).items()}

    # ---- what is typed

    @property
    def is_changed(self) -> bool:
        """Whether something stands in the form that is not saved."""
        return bool(self.body.changed)

    @on(FormBody.Changed)
    def _typed(self) -> None:
        if not self._done:
            self._keep_draft()
            self._check_soon()

    @on(FormBody.Left)
    def _left(self) -> None:
        self._check_soon()

    def _keep_draft(self, *, stands: bool = True) -> None:
        if not self.is_changed:
            self.memory.drop_draft(self._draft)
            return
        opened = None if self._opened is None else self._opened.values
        base = {n: e.opened_text for n, e in self.body.entries.items() if e.opened_text} if opened is None else {}
        texts = {e.name_: e.text for e in self.body.changed}
        draft = drafts.Draft(self._draft, self.form.kind, self.key, texts, opened, base, stands=stands)
        drafts.keep(self.memory, draft)

    def _check_soon(self) -> None:
        if self._late is not None:
            self._late.stop()
        self._late = self.set_timer(_CHECK_SECONDS, self._check_now)

    def _check_now(self) -> None:
        form, catalogue = self.form, self.desk.catalogue
        values = self.body.values()[0]

        def check() -> tuple[dict[str, str], str | None]:
            return {**missing_references(catalogue, form, values), **check_row(form, values)}, derived_key(form, values)

        def show(found: tuple[dict[str, str], str | None]) -> None:
            self.body.say(found[0], all_of_them=self._tried)
            if not found[0] and not self.body.values()[1] and self._said.startswith(_NOT_SAVED):
                self._say("")
            if self.key is None:
                self.body.hint_key(found[1])

        self.work(check, show, group="check", what="check the row", failed=lambda _: None)

    def _say(self, text: str) -> None:
        self._said = text
        banner = self.query_one(".form--banner", Static)
        banner.update(text)
        banner.display = bool(text)

    # ---- saving

    def _joins(self, values: Mapping[str, Any]) -> bool:
        """Whether a club is to belong to a set that it did not belong to."""
        before = None if self._opened is None else self._opened.values.get("set_id")
        return self.form.kind == "club" and values.get("set_id") not in (None, before)

    def _ask_to_join(self, values: Mapping[str, Any], then: Callable[[str], None] | None) -> None:
        """Ask about a club that makes open orders larger; save at once where it makes none."""
        catalogue, key, group = self.desk.catalogue, self.key or values.get("id"), values.get("set_id")

        def look() -> str:
            from specdb.verbs.orders.touched import joining_set

            return joining_set(catalogue, key, group)

        def ask(said: str) -> None:
            if not said:
                self.action_save(then, sure=True)
                return
            ways = (Way("save", "s", "Save it: these orders get one club more"),)
            text = f"{begun(said)}. As long as nothing is kept for it, an undo takes it back."
            dialog = WaysDialog("Open orders get larger", text, ways)
            self.app.push_screen(dialog, lambda way: self.action_save(then, sure=True) if way == "save" else None)

        self.work(look, ask, group="join", what="look at the orders")

    def action_save(self, then: Callable[[str], None] | None = None, *, sure: bool = False) -> None:
        """Save the row, if all of it can be taken."""
        if self._saving or self._done or not self.body.entries:
            return
        self._tried = True
        values, errors = self.body.values()
        if errors:
            self._refused(errors)
            return
        if not self.is_changed and self.key is not None:
            self.notify("Nothing was changed.")
            if then is not None:
                then(self.key)
            return
        if not sure and self._joins(values):
            self._ask_to_join(values, then)
            return
        self._saving = True
        self._sent = self.body.texts()
        form, catalogue, opened = self.form, self.desk.catalogue, self._opened
        why, by = self.query_one("#why", Input).value.strip() or None, self.query_one("#by", Input).value.strip()
        remember_who(self.memory, by)

        def save() -> Kept | dict[str, str]:
            found = {**missing_references(catalogue, form, values), **check_row(form, values)}
            return found or keep_row(catalogue, form.kind, values, opened=opened, by=by or None, why=why)

        self.work(
            save,
            lambda result: self._saved(result, then),
            group="save",
            what=f"save the {form.table.title.lower()}",
            failed=self._not_saved,
            changes=True,
        )

    def _refused(self, errors: Mapping[str, str]) -> None:
        self.body.point_at(errors)
        titles = [self.form.field(n).label for n in errors]
        self._say(f"{_NOT_SAVED}: look at {listed(titles)}.")  # a notice would hide what is wrong

    def _not_saved(self, error: SpecdbError) -> None:
        self._saving = False
        if isinstance(error, FieldError) and error.field in self.body.entries:
            self._refused({error.field: field_sentence(self.form, error.field, str(error))})
        else:
            self.specdb.tell_error(error)

    def _saved(self, result: Kept | dict[str, str], then: Callable[[str], None] | None) -> None:
        self._saving = False
        if isinstance(result, dict):
            self._refused(result)
        elif result.action == "differs":
            self.app.push_screen(DiffersDialog(self.form, result), lambda c: self._decided(result, c, then))
        elif result.action == "gone":
            ways = (Way("add", "a", "Add it again, as it stands in this form"),)
            text = f"Someone took away this {self.form.table.title.lower()} while the form was open."
            self.app.push_screen(WaysDialog("No longer there", text, ways), lambda w: self._add_again(w, then))
        else:
            self._finished(result, then)

    def _decided(self, kept: Kept, choice: dict[str, str] | None, then: Callable[[str], None] | None) -> None:
        if choice is None or self._opened is None:
            self._say("Someone else changed this row; nothing is saved yet.")
            return
        self._opened = rebased(self._opened, kept.now)
        self.body.rebase(kept.now, {field: whose == MINE for field, whose in choice.items()})
        self._keep_draft()
        self.action_save(then)

    def _add_again(self, way: str | None, then: Callable[[str], None] | None) -> None:
        if way != "add":
            return
        self._opened, self.key = None, None
        self.body.start_anew()
        self.action_save(then)

    def _finished(self, kept: Kept, then: Callable[[str], None] | None) -> None:
        going_on = then is None and self.body.texts() != self._sent
        self._done = not going_on
        self.memory.drop_draft(self._draft)
        shown = f" {kept.key}" if self.form.table.key_style != "digest" else ""
        title = self.form.table.title
        if kept.change_no is None:
            self.notify("It stands in the catalogue so already.")
        else:
            done = "Added" if kept.action == "added" else "Changed"
            self.notify(
                f"{title}{shown}, change {kept.change_no}. ^z takes it back.", title=done, markup=False, timeout=6
            )
        if self._kept is not None:
            self._kept(kept.key)
        if going_on:
            self._go_on(kept)
        elif then is not None:
            then(kept.key)
        else:
            self._close()

    def _go_on(self, kept: Kept) -> None:
        """Stay, with what was typed while the saving had to wait."""
        opened = self._opened or OpenedRow(self.form.kind, kept.key, {}, {}, {}, 0, None)
        self.key, self._opened = kept.key, rebased(replace(opened, key=kept.key), kept.now)
        self._draft = drafts.fresh_name(self.form.kind, self.key)
        self.body.rebase(kept.now, dict.fromkeys(self.body.entries, True))
        self.body.lock_key(kept.now)
        self._keep_draft()
        self._show_title()
        self.actions_changed()
        self._say("Saved. What was typed since then is not saved yet.")

    # ---- going elsewhere

    def _close(self) -> None:
        self._done = True
        if self._late is not None:
            self._late.stop()
        if self.app.screen is self:
            self.app.pop_screen()

    def action_leave(self) -> None:
        """Go back, after asking about what is not saved."""
        if self._saving:
            self.notify("It is being saved; a moment.")
            return
        if not self.is_changed:
            self.memory.drop_draft(self._draft)
            self._close()
            return
        ways = (
            Way("save", "s", "Save it"),
            Way("keep", "k", "Close and keep it half typed, to go on later"),
            Way("drop", "t", "Throw away what was typed"),
        )
        typed = [e.field.label for e in self.body.changed]
        text = f"Typed and not saved: {listed(typed, 6)}."
        self.app.push_screen(WaysDialog("Not saved", text, ways), self._leave)

    def _leave(self, way: str | None) -> None:
        if way == "save":
            self.action_save()
        elif way == "keep":
            self._keep_draft(stands=False)
            self._close()
        elif way == "drop":
            self.memory.drop_draft(self._draft)
            self._close()

    def action_another(self) -> None:
        """Save, and begin a new row like this one."""

        def begin(key: str) -> None:
            from specdb.tui.forms.screen import form_screen

            self.app.switch_screen(form_screen(self.form.kind, similar=key, kept=self._kept))

        self.action_save(begin)

    def action_history(self) -> None:
        """Show what happened to the row."""
        from specdb.tui.catalogue.history_view import HistoryScreen

        self.app.push_screen(HistoryScreen(self.form.kind, self.key))

    def action_parts(self) -> None:
        """Show what belongs to the row: readings of a shaft, settings of an adapter."""
        from specdb.tui.catalogue.parts_view import PartsScreen

        self.app.push_screen(PartsScreen(self.form.kind, str(self.key)))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Some actions are only for rows that are there, or that can be changed."""
        fixed = self.form.table.append_only and self.key is not None
        if action in ("save", "another") and fixed:
            return False
        if action == "history":
            return self.key is not None
        if action == "parts":
            return self.key is not None and self.form.kind in ("shaft", "adapter")
        return super().check_action(action, parameters)

    def action_field(self, step: int) -> None:
        """Go to the next field, or the one before."""
        if step > 0:
            self.focus_next(EntryInput)
        else:
            self.focus_previous(EntryInput)

    def action_enter(self) -> None:
        """Show the list of what the field takes, or go to the next field."""
        entry = next((e for e in self.body.entries.values() if e.input.has_focus), None)
        if entry is None or not entry.show_list():
            self.focus_next(EntryInput)

    def action_section(self, step: int) -> None:
        """Go to the first field of the next section, or of the one before."""
        self.body.go_to_section(step)

    def action_edge(self, last: bool) -> None:
        """Go to the first or the last field."""
        self.body.go_to_edge(last=last)

    # ---- another changed it

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the hook)
        """Show what another changed at once: as it is where nothing was typed, else as a word above the form."""
        if self.key is None or self._opened is None or self._done or self._saving:
            return
        kind, key, catalogue = self.form.kind, self.key, self.desk.catalogue
        self.work(
            lambda: open_row(catalogue, kind, key),
            self._seen,
            group="look",
            what="look at the row again",
            failed=lambda _: self._say("This row was taken away by someone else; what is typed here is not saved."),
        )

    def _seen(self, row: OpenedRow) -> None:
        if self._opened is None or self._done or self._saving:
            return
        before = self._opened.values
        changed = [n for n in row.values if row.values[n] != before.get(n) and n in self.body.entries]
        if not self.is_changed:
            self._opened = row
            self.body.refill(row)
            self._show_title()
        elif changed:
            titles = listed([self.form.field(n).label for n in changed])
            self._say(f"Someone else has just changed {titles}; you will be asked when you save.")
