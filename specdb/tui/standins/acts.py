"""What is done with the stand-ins of a club: filters, weights, decisions, saving; the screen itself shows them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

from textual import on

from specdb.errors import SpecdbError
from specdb.tui.standins.asked import Ranked
from specdb.tui.standins.shaft_filters import ShaftFilters
from specdb.tui.standins.weights import Weights, WeightsPane
from specdb.verbs.clubs.clubs import ClubRequest

if TYPE_CHECKING:
    from specdb.matching.doubt import Doubt
    from specdb.matching.result import Substitute
    from specdb.verbs.matching.weightings import WeightingLine
    from specdb.verbs.stiffness.installed_profiles import ProfilePair


class StandInActs(ShaftFilters):
    """Everything that changes what is asked, or comes of it."""

    FILTERS = "standins.filters"

    def __init__(self) -> None:
        super().__init__()
        self._request: ClubRequest | None = None
        self._ranked: Ranked | None = None
        self._weights: Weights | None = None
        self._seen: tuple[str, ProfilePair, Doubt] | None = None

    @property
    def _found(self) -> Substitute | None:
        """The stand-in that is looked at."""
        raise NotImplementedError

    @property
    def _left_out(self) -> str | None:
        """The shaft that was left out and is looked at; None where a stand-in is."""
        raise NotImplementedError

    def _is_left_out(self) -> bool:
        """Whether what is looked at was left out; says then why there is nothing to do with it."""
        shaft, ranked = self._left_out, self._ranked
        if shaft is None or ranked is None:
            return False
        from specdb.verbs.matching.substitutes import why_not

        self.notify(
            f"{why_not(ranked.answer, shaft)}. This can only be done with a stand-in that is proposed (tabs 1 to 3).",
            title="Left out",
            timeout=10,
            markup=False,
        )
        return True

    # ---- weights

    def _load_weights(self, name: str | None) -> None:
        from specdb.verbs.matching.weightings import DEFAULT, weighting_lines

        catalogue = self.desk.catalogue

        def show(lines: list[WeightingLine]) -> None:
            self._weights = Weights.of(name or DEFAULT, lines)
            self.query_one(WeightsPane).show(self._weights)

        def gone(error: SpecdbError) -> None:
            self.specdb.tell_error(error)
            self._filter(weighting=None)
            self._load_weights(None)

        self.work(
            lambda: weighting_lines(catalogue, name), show, group="weights", what="read the weighting", failed=gone
        )

    @on(WeightsPane.Changed)
    def _weights_changed(self, message: WeightsPane.Changed) -> None:
        weights = message.weights
        self._options = replace(self._options, tolerances=weights.tolerances() if weights.changed else None)
        self._ask()

    def action_weighting(self) -> None:
        """Choose a named weighting."""
        from specdb.tui.standins.weighting import ask_weighting

        ask_weighting(self, self._options.weighting, self._take_weighting)

    def _take_weighting(self, name: str | None) -> None:
        self._filter(weighting=name, tolerances=None)
        self._load_weights(name)

    def action_keep_weights(self) -> None:
        """Keep the weights under a name."""
        from specdb.tui.standins.weighting import ask_to_keep

        if self._weights is not None:
            ask_to_keep(self, self._weights, self._take_weighting)

    # ---- what comes of it

    def _decide(self, decision: str) -> None:
        from specdb.tui.standins.decide import ask_decision

        found, ranked = self._found, self._ranked
        if self._is_left_out():
            return
        if found is None or ranked is None:
            self.notify("There is no stand-in here to decide about.")
        elif ranked.answer.club.record is None:
            self.notify("This club was made on the spot: keep it under Clubs (F3) first, then decide.")
        else:
            ask_decision(self, ranked.answer.club.record.id, found, decision, now=ranked.answer.chosen)

    def action_choose(self) -> None:
        """Choose this stand-in."""
        self._decide("chosen")

    def action_turn_down(self) -> None:
        """Turn this stand-in down."""
        self._decide("rejected")

    def action_fitup(self) -> None:
        """See its tip in the bore."""
        found, ranked, left_out = self._found, self._ranked, self._left_out
        if ranked is None or (found is None and left_out is None):
            return
        asked = ranked.answer.club.request
        parts = {
            name: getattr(asked, name)
            for name in ("head", "adapter", "setting", "ferrule", "grip", "adhesive", "insertion_in", "length_in")
            if getattr(asked, name) is not None
        }
        if left_out is None and found is not None:
            parts["tip_trim_in"] = found.tip_trim_in
        self.specdb.open_place("fitup", **parts, shaft=left_out or (found and found.shaft_id))

    def action_bench(self) -> None:
        """Measure it."""
        shaft = self._left_out or (self._found and self._found.shaft_id)
        if shaft:
            self.specdb.open_place("bench", shaft=shaft)

    def _text(self) -> tuple[str, str] | None:
        from specdb.tui.standins.saving import comparison_text

        found, ranked = self._found, self._ranked
        if self._is_left_out():
            return None
        if found is None or ranked is None:
            self.notify("There is no comparison here to save.")
            return None
        seen = (
            self._seen if self._seen is not None and self._seen[0] == found.shaft_id else (found.shaft_id, None, None)
        )
        text = comparison_text(ranked.answer, found, seen[1], seen[2], ranked.options, today())
        record = ranked.answer.club.record
        return f"stand-in-{record.id if record else 'club'}-{found.shaft_id}.txt", text

    def action_save(self) -> None:
        """Save the comparison."""
        from specdb.tui.standins.saving import ask_to_save

        made = self._text()
        if made is not None:
            ask_to_save(self, *made)

    def action_print(self) -> None:
        """Print the comparison."""
        from specdb.tui.standins.saving import print_text

        made = self._text()
        if made is not None:
            print_text(self, made[1])


def today() -> dt.date:
    """The day on the shop's own calendar."""
    return dt.date.today()  # noqa: DTZ011 (the shop's own calendar)
