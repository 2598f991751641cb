"""What is asked of the stand-ins of a set, and what comes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.verbs.matching.substitutes import SearchOptions
from specdb.verbs.sets.substitutes import SetAnswer, SetSearchInputs, read_set_search

if TYPE_CHECKING:
    from specdb.matching.index import MatchIndex
    from specdb.sets.models import ShaftModels
    from specdb.tui.desk import Desk

TOP = 20  # models listed


@dataclass(frozen=True, slots=True)
class RankedModels:
    """The stand-ins of one set.

    Attributes
    ----------
    set_id : str
        The set.
    options : SearchOptions
        How they were looked for.
    answer : SetAnswer
        What was found.
    index : MatchIndex
        The index it was found with.
    inputs : SetSearchInputs
        What was read of the catalogue.
    models : ShaftModels
        The models of that index.
    """

    set_id: str
    options: SearchOptions
    answer: SetAnswer
    index: MatchIndex
    inputs: SetSearchInputs
    models: ShaftModels

    @property
    def lengths(self) -> dict[str, float]:
        """Playing length by club, in."""
        return {m.club_id: m.parts.playing_length_in for m in self.answer.report.members}


def rank_models(desk: Desk, set_id: str, options: SearchOptions, before: RankedModels | None = None) -> RankedModels:
    """Look for the models that can supply a set, with the kept index; for jobs.

    Parameters
    ----------
    desk : Desk
        The catalogue.
    set_id : str
        The set.
    options : SearchOptions
        How to look.
    before : RankedModels or None
        An answer about the same set on the same catalogue: what was read for it is not read again.
    """
    if before is not None and (before.set_id, before.options.weighting) == (set_id, options.weighting):
        index, inputs, models = before.index, before.inputs, before.models
    else:
        index = desk.index()
        with desk.catalogue.read() as reader:
            inputs = read_set_search(reader, set_id, options.weighting)
        models = inputs.models(index)
    return RankedModels(set_id, options, inputs.search(index, options, models), index, inputs, models)
