"""What is done with the stand-ins of a set: filters, decisions for the whole set, saving, what lies beyond."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from specdb.tui.dialogs.picker import Picker
from specdb.tui.dialogs.words import WordsDialog
from specdb.tui.sets.acts import ask_for_sheets
from specdb.tui.sets.asked import TOP, RankedModels
from specdb.tui.sets.saving import ask_for_file, save_text
from specdb.tui.standins.acts import today
from specdb.tui.standins.decide import NOT_LIKED, who_and_why, wrong_words
from specdb.tui.standins.shaft_filters import ShaftFilters
from specdb.tui.widgets.words import remember_who

if TYPE_CHECKING:
    from specdb.matching.doubt import Doubt
    from specdb.sets.result import SetStandIn


class SetStandInActs(ShaftFilters):
    """Everything that changes what is asked of a set's stand-ins, or comes of it.

    Parameters
    ----------
    set_id : str
        The set.
    """

    FILTERS = "sets.filters"
    PRICE = "Highest price of a shaft; empty for any"

    def __init__(self, set_id: str) -> None:
        super().__init__()
        self._set_id = set_id
        self._options = replace(self._options, top=TOP)
        self._ranked: RankedModels | None = None
        self._doubt: Doubt | None = None

    @property
    def _found(self) -> SetStandIn | None:
        """The model that is looked at."""
        raise NotImplementedError

    def action_weighting(self) -> None:
        """Choose a named weighting."""
        from specdb.tui.standins.weighting import ask_weighting

        ask_weighting(self, self._options.weighting, lambda name: self._filter(weighting=name))

    # ---- decisions

    def action_choose(self) -> None:
        """Choose this model for the whole set."""
        self._decide(chosen=True)

    def action_turn_down(self) -> None:
        """Turn this model down for the whole set."""
        self._decide(chosen=False)

    def _decide(self, *, chosen: bool) -> None:
        found = self._found
        if found is None:
            self.notify("There is no model here to decide about.")
            return
        if chosen:
            shafts = "; ".join(
                f"{c.club_id}: {c.substitute.shaft_id}, tip trim {c.substitute.tip_trim_in:g} in" for c in found.clubs
            )
            said = f"{found.model}, {found.way}, score {found.score:.2f}, for every club in one go. {shafts}."
        else:
            ways = " Its other ways may still be." if found.other_ways else ""
            said = f"{found.model}, {found.way}, is not proposed for this set again.{ways}"
        dialog = WordsDialog(
            f"{'Choose a model for' if chosen else 'Turn down for'} {self._set_id}",
            who_and_why(self.memory, "all on the shelf" if chosen else NOT_LIKED),
            said=said,
            check=partial(wrong_words, of="this set"),
            draft=f"sets.{'chosen' if chosen else 'rejected'}/{self._set_id}/{found.shaft_ids[0]}/{found.way}",
        )
        self.app.push_screen(dialog, partial(self._decided, found, chosen))

    def _decided(self, found: SetStandIn, chosen: bool, typed: Mapping[str, str] | None) -> None:
        if typed is None:
            return
        catalogue, set_id = self.desk.catalogue, self._set_id
        remember_who(self.memory, typed["by"])

        def keep() -> str:
            from specdb.verbs.sets.decisions import choose_for_set, reject_for_set

            act = choose_for_set if chosen else reject_for_set
            clubs = act(catalogue, set_id, found, by=typed["by"] or None, why=typed["why"])
            return f"{found.model} is {'chosen' if chosen else 'turned down'} for {len(clubs)} clubs of {set_id}."

        def tell(said: str) -> None:
            self.notify(f"{said} Ctrl+z takes all of it back.", title="Kept", markup=False)

        self.work(keep, tell, group="decide", what="keep the decision", changes=True)

    # ---- what comes of it

    def _text(self) -> str | None:
        from specdb.tui.sets.standins_text import model_text

        found, ranked = self._found, self._ranked
        if found is None or ranked is None:
            self.notify("There is no comparison here to save.")
            return None
        return model_text(ranked, found, self._doubt, today())

    def action_save(self) -> None:
        """Save trim chart and comparison."""
        found, text = self._found, self._text()
        if found is None or text is None:
            return
        name = f"stand-in-{self._set_id}-{found.shaft_ids[0]}.txt"
        ask_for_file(self, "Save trim chart and comparison", name, "Plain text.", save_text(text))

    def action_print(self) -> None:
        """Print trim chart and comparison."""
        from specdb.tui.standins.saving import print_text

        text = self._text()
        if text is not None:
            print_text(self, text)

    def action_sheets(self) -> None:
        """Write trim chart and build sheets to a PDF file."""
        ask_for_sheets(self, self._set_id)

    def action_fitup(self) -> None:
        """See the tip of one club's stand-in in its bore."""
        from specdb.tui.dialogs.chooser import Chooser
        from specdb.tui.widgets.columns import ColumnSpec

        found = self._found
        if found is None:
            return
        rows = [(c.club_id, c.club_id, c.substitute.shaft_id) for c in found.clubs]
        columns = [ColumnSpec("club", "club"), ColumnSpec("shaft", "its stand-in")]
        self.app.push_screen(Chooser("Fit-up of which club?", columns, rows), partial(self._fit_club, found))

    def _fit_club(self, found: SetStandIn, club: str | None) -> None:
        own = next((c.substitute for c in found.clubs if c.club_id == club), None)
        if own is not None:
            self.specdb.open_place("fitup", club=club, shaft=own.shaft_id, tip_trim_in=own.tip_trim_in)

    def action_why_not(self) -> None:
        """Choose a shaft and see why its model is not proposed."""
        self.app.push_screen(Picker("shaft", title="Why is its model not proposed?"), self._say_why_not)

    def _say_why_not(self, key: str | None) -> None:
        from specdb.verbs.sets.substitutes import why_not_for_set

        ranked = self._ranked
        if key is None or ranked is None:
            return

        def say(said: str) -> None:
            self.notify(f"{said}.", title="Why not", timeout=12, markup=False)

        self.work(lambda: why_not_for_set(ranked.answer, key), say, group="why", what="look why it is not proposed")
