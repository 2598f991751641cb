"""What is done with a fitted set: put together, the next club down, stand-ins, heads, build sheets."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path

from specdb.tui.base import PlaceScreen
from specdb.tui.dialogs.words import Wanted, WordsDialog
from specdb.tui.sets.members import SetMembersDialog, keys_of
from specdb.tui.sets.saving import ask_for_file
from specdb.tui.widgets.columns import plain
from specdb.tui.widgets.words import listed, who
from specdb.units.writing import begun
from specdb.verbs.sets.lists import Assigned, assign_set
from specdb.verbs.sets.next_club import NextClub, next_down

_LONGEST_NAME = 80


class SetActs(PlaceScreen):
    """Actions on the set, or the club, of the cursor."""

    @property
    def set_id(self) -> str | None:
        """Name of the set of the cursor."""
        raise NotImplementedError

    @property
    def club(self) -> str | None:
        """Key of the club of the cursor."""
        raise NotImplementedError

    def show_set(self, set_id: str) -> None:
        """Go to a set."""
        raise NotImplementedError

    def _kept(self, key: str) -> None:
        """Called when a club was saved in its form."""
        raise NotImplementedError

    # ---- putting a set together

    def action_new(self) -> None:
        """Put a new set together."""
        dialog = WordsDialog(
            "New set",
            [Wanted("name", "name of the set", hint="e.g. quilter-irons: the player and what it is")],
            said="Then mark the fitted clubs that belong to it.",
            check=_wrong_name,
        )
        self.app.push_screen(dialog, self._named)

    def _named(self, typed: Mapping[str, str] | None) -> None:
        if typed is not None:
            self._ask_members(typed["name"])

    def action_members(self) -> None:
        """Take clubs into the set, or out of it."""
        if self.set_id is None:
            self.notify("There is no set here yet; n puts one together.")
        else:
            self._ask_members(self.set_id)

    def _ask_members(self, set_id: str) -> None:
        self.app.push_screen(SetMembersDialog(set_id), partial(self._keep_members, set_id))

    def _keep_members(self, set_id: str, closed: str | None) -> None:
        if closed is None:
            return
        catalogue, by = self.desk.catalogue, who(self.memory) or None

        def told(done: Assigned) -> None:
            said = [
                *([f"{listed(done.joined)} taken in"] if done.joined else []),
                *([f"{listed(done.left)} taken out"] if done.left else []),
                *([f"moved from {', '.join(done.moved_from)}"] if done.moved_from else []),
            ]
            said += done.touched
            self.notify(f"Set {set_id}: {'; '.join(said)}. Ctrl+z takes it back.", title="Kept", markup=False)
            self.show_set(set_id)

        self.work(
            lambda: assign_set(catalogue, set_id, keys_of(closed), by=by),
            told,
            group="members",
            what="put the set together",
            changes=True,
        )

    def action_down(self) -> None:
        """Enter the next club down the set."""
        club, catalogue = self.club, self.desk.catalogue
        if club is None:
            self.notify("There is no club here to copy; n puts a set together.")
            return
        self.work(lambda: next_down(catalogue, club), self._next, group="next", what="propose the next club")

    def _next(self, found: NextClub) -> None:
        from specdb.tui.clubs.form import ClubForm
        from specdb.verbs.catalogue.forms import as_typed

        preset = {name: "" if value is None else plain(as_typed(value)) for name, value in found.values.items()}
        self.app.push_screen(ClubForm(None, similar=found.like, preset=preset, kept=self._kept))
        said = "; ".join(found.said)
        self.notify(f"{begun(said)}. Look it over, then save.", title=f"Number {found.number}",
                    timeout=12, markup=False)  # fmt: skip

    # ---- from here

    def action_standins(self) -> None:
        """Find the models that can supply the set."""
        from specdb.tui.sets.standins import SetStandInsScreen

        if self.set_id is not None:
            self.app.push_screen(SetStandInsScreen(self.set_id))

    def action_heads(self) -> None:
        """Find the nearest heads to that of the club of the cursor."""
        from specdb.tui.standins.heads_screen import HeadsScreen

        if self.club is not None:
            self.app.push_screen(HeadsScreen(club=self.club))

    def action_sheets(self) -> None:
        """Write trim chart and build sheets to a PDF file."""
        if self.set_id is not None:
            ask_for_sheets(self, self.set_id)


def ask_for_sheets(screen: PlaceScreen, set_id: str) -> None:
    """Write trim chart and build sheets of a set to a PDF file, after asking for its name.

    Parameters
    ----------
    screen : PlaceScreen
        Where it was asked for.
    set_id : str
        The set.
    """
    catalogue = screen.desk.catalogue

    def write(path: Path) -> str:
        from specdb.verbs.building.build_sheet import set_sheet, write_pdf

        chart, sheets = set_sheet(catalogue, set_id)
        write_pdf(path, sheets, chart)
        return f"The trim chart and {len(sheets)} sheets are in {path}."

    ask_for_file(
        screen,
        f"Build sheets of set {set_id}",
        f"{set_id}.pdf",
        "Trim chart first, then a page a club; with the stand-ins that are chosen, else the fitted shafts.",
        write,
    )


def _wrong_name(typed: Mapping[str, str]) -> str:
    name = typed["name"]
    if not name:
        return "Name the set."
    return f"At most {_LONGEST_NAME} letters can be kept." if len(name) > _LONGEST_NAME else ""
