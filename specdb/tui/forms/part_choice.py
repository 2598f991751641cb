"""The list of what a field of a form takes: words, rows of another kind, names within another part of the row."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from specdb.tui.base import Working
from specdb.tui.dialogs.ask import WordDialog
from specdb.tui.widgets.entry import FieldEntry
from specdb.verbs.catalogue.forms import Form


def ask_for_choice(
    screen: Working[Any], form: Form, entry: FieldEntry, texts: Mapping[str, str], chosen: Callable[[str | None], None]
) -> None:
    """Show the list, or say beside the field what is lacking for it.

    Parameters
    ----------
    screen : Working
        The screen the field is on.
    form : Form
        The form.
    entry : FieldEntry
        The field.
    texts : mapping
        What stands in all fields.
    chosen : callable
        Takes what was chosen; None where nothing was.
    """
    field = entry.field
    kind = form.kind_referred_to(field.name, texts)
    if field.choices:
        screen.app.push_screen(WordDialog(field.label, field.choices, entry.text), chosen)
    elif field.within is not None:
        _ask_within(screen, form, entry, texts, chosen)
    elif kind is None:
        entry.say_lacking(f"Say first what it is: {form.field(field.refers_by or '').label}.")
    else:
        from specdb.tui.dialogs.picker import Picker

        picker = Picker.for_part(kind, texts.get("head_id", "").strip())
        picker.begin = entry.text.strip() if entry.is_changed else ""
        screen.app.push_screen(picker, chosen)


def _ask_within(
    screen: Working[Any], form: Form, entry: FieldEntry, texts: Mapping[str, str], chosen: Callable[[str | None], None]
) -> None:
    """The settings of an adapter, or the measured pieces of a shaft."""
    catalogue, name = screen.desk.catalogue, entry.field.name
    of = form.field(entry.field.within or "")
    part = texts.get(of.name, "").strip()
    if not part:
        entry.say_lacking(f"Say first which: {of.label}.")
        return

    def look() -> tuple[str, ...]:
        from specdb.verbs.catalogue.form_rows import names_within

        return names_within(catalogue, form, name, part)

    def show(words: Sequence[str]) -> None:
        if words:
            screen.app.push_screen(WordDialog(f"{entry.field.label} of {part}", words, entry.text), chosen)
        else:
            entry.say_lacking(f"None is in the catalogue of {part}.")

    screen.work(look, show, group="choice", what="list what the field takes")
