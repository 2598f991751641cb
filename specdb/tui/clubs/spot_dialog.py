"""A club made on the spot: parts and lengths typed or chosen, without keeping it in the catalogue."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.forms.part_choice import ask_for_choice
from specdb.tui.frame import KeyLine
from specdb.tui.widgets.entry import FieldEntry
from specdb.verbs.catalogue.forms import form_of
from specdb.verbs.clubs.clubs import ClubRequest

DRAFT = "standins.spot"
# field of a club, and what it is called in a request
FIELDS: Mapping[str, str] = {
    "shaft_id": "shaft",
    "head_id": "head",
    "playing_length_in": "length_in",
    "swingweight": "swingweight",
    "tip_trim_in": "tip_trim_in",
    "grip_id": "grip",
    "adapter_id": "adapter",
    "adapter_setting": "setting",
    "insertion_in": "insertion_in",
    "ferrule_id": "ferrule",
    "adhesive_id": "adhesive",
}
_NEEDED = ("shaft_id", "head_id", "playing_length_in")


def texts_of(request: ClubRequest) -> dict[str, str]:
    """What is to stand in the form for a club.

    Parameters
    ----------
    request : ClubRequest
        The club, complete.
    """
    found = {}
    for field, name in FIELDS.items():
        value = getattr(request, name)
        if value is not None:
            found[field] = f"{value:g}" if isinstance(value, float) else str(value)
    return found


class SpotDialog(Dialog[ClubRequest | None]):
    """Parts and lengths of a club; closes with it, or with None.

    Parameters
    ----------
    begin : mapping of str to str
        What stands in the fields at first.
    """

    place = "club on the spot"
    ACTIONS = (
        Action("take", "ctrl+s", "find stand-ins", "Look for stand-ins for this club; nothing is kept."),
        Action("empty", "ctrl+e", "empty", "Empty every field.", priority=True),
        Action("give_up", "escape", "back", "Close; what is half typed is kept."),
    )
    DEFAULT_CSS: ClassVar[str] = """
    SpotDialog > .dialog { width: 90; height: auto; max-height: 100%; }
    SpotDialog VerticalScroll { height: auto; }
    SpotDialog #wrong { height: auto; color: $error; text-style: bold; padding: 0 1; }
    """

    def __init__(self, begin: Mapping[str, str]) -> None:
        super().__init__()
        self._begin = dict(begin)
        self._form = form_of("club")

    def compose(self) -> ComposeResult:
        """The fields."""
        held = self.memory.draft(DRAFT) or self._begin
        with VerticalScroll(classes="dialog", can_focus=False) as box:
            box.border_title = "A club made on the spot"
            for name in FIELDS:
                yield FieldEntry(self._form, self._form.field(name), held.get(name, ""), texts=lambda: self.texts)
            yield Static("", id="wrong", markup=False)
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Begin at the first field."""
        self.query(FieldEntry).first().input.focus()

    @property
    def texts(self) -> dict[str, str]:
        """What is typed, by field."""
        return {entry.field.name: entry.text for entry in self.query(FieldEntry)}

    @on(FieldEntry.Typed)
    def _typed(self) -> None:
        self.memory.keep_draft(DRAFT, self.texts)
        self.query_one("#wrong", Static).update("")

    @on(FieldEntry.ChoiceWanted)
    def _choose(self, message: FieldEntry.ChoiceWanted) -> None:
        ask_for_choice(self, self._form, message.entry, self.texts, partial(self._chosen, message.entry))

    def _chosen(self, entry: FieldEntry, key: str | None) -> None:
        if key is not None:
            entry.put(key)
            self.memory.keep_draft(DRAFT, self.texts)
            self.screen.focus_next("EntryInput")

    def action_empty(self) -> None:
        """Empty every field."""
        for entry in self.query(FieldEntry):
            entry.put("")
        self.memory.drop_draft(DRAFT)

    def action_take(self) -> None:
        """Close with the club, if every field can be read."""
        entries = list(self.query(FieldEntry))
        wrong = [e for e in entries if not e.check()]
        missing = [e for e in entries if e.field.name in _NEEDED and not e.text.strip()]
        if wrong or missing:
            said = "Mend what is marked." if wrong else f"Needed: {', '.join(e.field.label.lower() for e in missing)}."
            self.query_one("#wrong", Static).update(f"! {said}")
            (wrong or missing)[0].input.focus()
            self.app.bell()
            return
        values = {FIELDS[e.field.name]: e.read.value for e in entries if e.read.value is not None}
        self.memory.drop_draft(DRAFT)
        self.dismiss(ClubRequest(**values))

    def action_give_up(self) -> None:
        """Close without."""
        self.dismiss(None)
