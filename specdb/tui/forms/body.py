"""The fields of a form, in sections: what stands in them, what is wrong, where each value comes from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from textual import on
from textual.containers import VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from specdb.tui.base import Working
from specdb.tui.forms.part_choice import ask_for_choice
from specdb.tui.widgets.columns import plain
from specdb.tui.widgets.entry import LABEL, FieldEntry
from specdb.tui.widgets.words import fitting, origin_words
from specdb.verbs.catalogue.form_rows import OpenedRow, Origin, common_origin
from specdb.verbs.catalogue.forms import Form, read_all, texts_of


class FormBody(VerticalScroll, can_focus=False):
    """The fields of a form.

    Parameters
    ----------
    form : Form
        The form.
    """

    DEFAULT_CSS = """
    FormBody { height: 1fr; scrollbar-size-vertical: 1; background: $background; }
    FormBody .form--section { height: 1; margin: 1 1 0 1; color: $accent; text-style: bold; }
    FormBody .form--section.-first { margin: 0 1; }
    """

    class Changed(Message):
        """Something was typed in a field."""

    class Left(Message):
        """A field was left."""

    def __init__(self, form: Form) -> None:
        super().__init__()
        self.form = form
        self.entries: dict[str, FieldEntry] = {}
        self.visited: set[str] = set()
        self._base: dict[str, Any] = {}  # stored values behind what stands in the fields at first
        self._common: Origin | None = None  # where most values come from

    def fill(
        self, texts: Mapping[str, str], base: Mapping[str, Any], row: OpenedRow | None, *, key: str | None
    ) -> None:
        """Put the fields up.

        Parameters
        ----------
        texts : mapping
            What stands in them.
        base : mapping
            Stored values behind those texts, kept exactly where a field is not touched.
        row : OpenedRow or None
            The row, or the one that is copied.
        key : str or None
            Key of the row; None for a new one.
        """
        self._base = dict(base)
        self._common = None if row is None or key is None else common_origin(row)
        fixed = self.form.table.append_only and key is not None
        self.entries.clear()
        widgets: list[Static | FieldEntry] = []
        for number, section in enumerate(self.form.sections):
            first = " -first" if not number else ""
            widgets.append(Static(section.title, classes=f"form--section{first}", markup=False))
            for field in section.fields:
                text = texts.get(field.name, "")
                locked = fixed or (field.is_key and key is not None)
                entry = FieldEntry(self.form, field, text, texts=self.texts, locked=locked)
                entry.say_from(*self._sides(field.name, text, row, key))
                self.entries[field.name] = entry
                widgets.append(entry)
        self.mount(*widgets)
        self._say_common()

    def refill(self, row: OpenedRow) -> None:
        """Show a row as it stands now, in fields in which nothing was typed.

        Parameters
        ----------
        row : OpenedRow
            The row.
        """
        self._base, self._common = dict(row.values), common_origin(row)
        texts = texts_of(self.form, row.values)
        for name, entry in self.entries.items():
            entry.opened_text = plain(texts.get(name, ""))
            if entry.text != entry.opened_text:
                entry.put(entry.opened_text)
            entry.say_from(*self._sides(name, entry.opened_text, row, row.key))
        self._say_common()

    def rebase(self, now: Mapping[str, Any], fields: Mapping[str, bool]) -> None:
        """Take over what another changed as what the form was opened with.

        Parameters
        ----------
        now : mapping
            The row as it stands.
        fields : mapping of str to bool
            Fields that the other changed, and whether what is typed here counts all the same.
        """
        self._base, texts = dict(now), texts_of(self.form, now)
        for name, mine in fields.items():
            entry = self.entries.get(name)
            if entry is None:
                continue
            entry.opened_text = plain(texts.get(name, ""))
            if mine:
                entry.check()
            else:
                entry.put(entry.opened_text)

    def lock_key(self, now: Mapping[str, Any]) -> None:
        """Show the key of a row that has been added, and let it be typed in no more.

        Parameters
        ----------
        now : mapping
            The row as it stands.
        """
        texts = texts_of(self.form, now)
        for name in self.form.table.primary_key:
            if name in self.entries:
                self.entries[name].put(plain(texts.get(name, "")))
                self.entries[name].freeze()

    def start_anew(self) -> None:
        """Count everything as typed, as for a row that is no longer there."""
        self._base = {}
        for entry in self.entries.values():
            entry.opened_text = ""

    # ---- what stands in the fields

    def texts(self) -> dict[str, str]:
        """What stands in the fields."""
        return {name: entry.text for name, entry in self.entries.items()}

    @property
    def changed(self) -> list[FieldEntry]:
        """Fields in which something else stands than at first."""
        return [entry for entry in self.entries.values() if entry.is_changed]

    def values(self) -> tuple[dict[str, Any], dict[str, str]]:
        """Stored values of all fields, and a sentence for each that cannot be taken."""
        values, errors = read_all(self.form, self.texts())
        for name, entry in self.entries.items():
            # what was not touched is kept as exactly as it is stored
            if name in self._base and not entry.is_changed:
                values[name] = self._base[name]
                errors.pop(name, None)
        return values, errors

    # ---- what is said of them

    def say(self, errors: Mapping[str, str], *, all_of_them: bool) -> None:
        """Say what is wrong with the row as a whole, beside the fields.

        Parameters
        ----------
        errors : mapping
            A sentence a field.
        all_of_them : bool
            Also beside fields that were not come to yet: what is only not yet typed is no mistake until one wants to
            save.
        """
        for name, entry in self.entries.items():
            seen = all_of_them or bool(entry.text) or (name in self.visited and not entry.field.field.required)
            entry.say(errors.get(name, "") if seen else "")

    def point_at(self, errors: Mapping[str, str]) -> None:
        """Say what is wrong at once, and go to the first field that is at fault.

        Parameters
        ----------
        errors : mapping
            A sentence a field.
        """
        for entry in self.entries.values():
            entry.check()
        self.say(errors, all_of_them=True)
        for name, entry in self.entries.items():
            if name in errors:
                entry.input.focus()
                return

    def hint_key(self, key: str | None) -> None:
        """Show the key that a new row would get.

        Parameters
        ----------
        key : str or None
            The key; None where it is not known yet.
        """
        for name in self.form.table.primary_key:
            if name in self.entries:
                self.entries[name].suggest("" if key is None else f"will be {key}")

    def _sides(self, name: str, text: str, row: OpenedRow | None, key: str | None) -> tuple[tuple[str, ...], str]:
        """What stands beside a value of where it comes from, and what is told of it in full."""
        if row is None or not text:
            return (), ""
        if key is None and name not in self._base:
            return ("proposed",), "proposed"
        if key is None:
            like = f"copied from {row.key}" if self.form.table.key_style != "digest" else "copied"
            return (like, "copied"), like
        origin, measured = row.origins.get(name), row.measured.get(name)
        words = origin_words(origin, measured)
        # what is the same for most values is said once, above them
        beside = origin_words(None, measured) if origin is not None and origin == self._common else words
        return beside, words[0] if words else ""

    def _say_common(self) -> None:
        heads = self.query(".form--section.-first")
        if not heads or self._common is None:
            return
        before = "Unless said otherwise: "
        said = fitting(origin_words(self._common), self.size.width - LABEL - len(before) - 4)
        text = f"{before}{said}" if said else ""
        title = self.form.sections[0].title.ljust(LABEL + 2)
        heads.only_one(Static).update(Content.assemble((title, ""), (text, "not bold $text-muted")))

    def on_resize(self) -> None:
        """Say as much as there is room for."""
        self._say_common()

    # ---- going about in it

    @property
    def first(self) -> FieldEntry:
        """The field to begin with: the first that can be typed in, and not a key that is worked out."""
        table = self.form.table
        worked_out = set(table.primary_key) if table.derive_key_from else set()
        entries = list(self.entries.values())
        free = (e for e in entries if not e.input.disabled and not e.text and e.name_ not in worked_out)
        open_ = (e for e in entries if not e.input.disabled and e.name_ not in worked_out)
        return next(free, entries[0]) if not self._base else next(open_, entries[0])

    def go_to_section(self, step: int) -> None:
        """Go to the first field of the next section, or of the one before.

        Parameters
        ----------
        step : int
            1 or -1.
        """
        names = [n for n, e in self.entries.items() if not e.input.disabled]
        starts = [
            names.index(free)
            for s in self.form.sections
            if (free := next((f.name for f in s.fields if f.name in names), None)) is not None
        ]
        at = next((i for i, n in enumerate(names) if self.entries[n].input.has_focus), 0)
        if step > 0:
            wanted = next((s for s in starts if s > at), len(names) - 1)
        else:
            wanted = next((s for s in reversed(starts) if s < at), 0)
        if names:
            self.entries[names[wanted]].input.focus()

    def go_to_edge(self, *, last: bool) -> None:
        """Go to the first or the last field.

        Parameters
        ----------
        last : bool
            Whether to the last.
        """
        entries = [e for e in self.entries.values() if not e.input.disabled]
        if entries:
            entries[-1 if last else 0].input.focus()

    # ---- events

    @on(FieldEntry.Typed)
    def _typed(self, message: FieldEntry.Typed) -> None:
        message.stop()
        entry = message.entry
        # what a reading's value or an item's key may be depends on another field
        if entry.name_ == "quantity" or entry.name_ in {f.refers_by for f in self.form.fields}:
            for other in self.entries.values():
                if other is not entry:
                    other.check()
        self.post_message(self.Changed())

    @on(FieldEntry.Left)
    def _left(self, message: FieldEntry.Left) -> None:
        message.stop()
        self.visited.add(message.entry.name_)
        self.post_message(self.Left())

    @on(FieldEntry.ChoiceWanted)
    def _choose(self, message: FieldEntry.ChoiceWanted) -> None:
        message.stop()
        entry = message.entry
        screen = cast("Working[Any]", self.screen)
        ask_for_choice(screen, self.form, entry, self.texts(), lambda text: self._chosen(entry, text))

    @staticmethod
    def _chosen(entry: FieldEntry, text: str | None) -> None:
        if text is not None:
            entry.put(text)
        entry.input.focus()
