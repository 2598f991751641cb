"""What is asked at the place Stand-ins, what comes of it, and what of it is remembered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from specdb.verbs.matching.substitutes import SearchInputs, SearchOptions, SubstitutesAnswer, read_search

if TYPE_CHECKING:
    from specdb.matching.index import MatchIndex
    from specdb.tui.desk import Desk
    from specdb.verbs.clubs.clubs import ClubRequest

TOP = 30  # stand-ins listed; each costs time at every change of a weight
_REMEMBERED: dict[str, type | tuple[type, ...]] = {
    "in_stock": bool,
    "same_tip": bool,
    "no_reaming": bool,
    "max_price": (int, float),
    "max_weight_g": (int, float),
    "weighting": str,
}


@dataclass(frozen=True, slots=True)
class Ranked:
    """The stand-ins of one club.

    Attributes
    ----------
    request : ClubRequest
        The club.
    options : SearchOptions
        How they were looked for.
    answer : SubstitutesAnswer
        What was found.
    index : MatchIndex
        The index it was found with.
    inputs : SearchInputs
        What was read of the catalogue, so that it may be asked otherwise without reading it again.
    """

    request: ClubRequest
    options: SearchOptions
    answer: SubstitutesAnswer
    index: MatchIndex
    inputs: SearchInputs


def rank(desk: Desk, request: ClubRequest, options: SearchOptions, before: Ranked | None = None) -> Ranked:
    """Look for stand-ins with the kept index; for jobs.

    Parameters
    ----------
    desk : Desk
        The catalogue.
    request : ClubRequest
        The club.
    options : SearchOptions
        How to look.
    before : Ranked or None
        An answer about the same club on the same catalogue: what was read for it is not read again.
    """
    if before is not None and (before.request, before.options.weighting) == (request, options.weighting):
        index, inputs = before.index, before.inputs
    else:
        index = desk.index()
        with desk.catalogue.read() as reader:
            inputs = read_search(reader, request, options.weighting)
    return Ranked(request, options, inputs.search(index, options), index, inputs)


def to_memory(options: SearchOptions) -> dict[str, Any]:
    """What is remembered of the options, as JSON values.

    Parameters
    ----------
    options : SearchOptions
        The options.
    """
    values = asdict(replace(options, tolerances=None))
    return {name: values[name] for name in _REMEMBERED if values[name] not in (None, False)}


def from_memory(held: object) -> SearchOptions:
    """Options from what was remembered; what makes no sense is left out.

    Parameters
    ----------
    held : object
        From :func:`to_memory`, or anything.
    """
    found: dict[str, Any] = {}
    if isinstance(held, Mapping):
        for name, kind in _REMEMBERED.items():
            value = held.get(name)
            if isinstance(value, kind) and (kind is bool or not isinstance(value, bool)):
                found[name] = value
    return SearchOptions(top=TOP, **found)
