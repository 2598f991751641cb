"""The ways in which tips get into the hole of this club, as builds that can be computed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from specdb.errors import BuildError, MissingDataError
from specdb.fitup.choose import choose_options
from specdb.fitup.options import BoreOption, preparation_options
from specdb.matching.index import MatchIndex
from specdb.matching.question import SubstituteQuestion
from specdb.matching.reference import Reference
from specdb.mechanics.assembly import head_cg_in
from specdb.mechanics.club import Build
from specdb.mechanics.constants import IN
from specdb.mechanics.cut import bored, cut

FloatArray = npt.NDArray[np.float64]
WayArray = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Way:
    """One way: the club but for its shaft with this way's parts, and what the preparation costs in score.

    Attributes
    ----------
    build : Build
        In SI, with the swing moment to restore.
    cost : float
        In units of score.
    option : BoreOption
        What it is made of.
    mass_unknown : bool
        Whether the weight of a part is unknown and not counted.
    """

    build: Build
    cost: float
    option: BoreOption
    mass_unknown: bool = False


@dataclass(frozen=True, slots=True)
class Ways:
    """The ways that at least one tip needs.

    Attributes
    ----------
    ways : sequence of Way
        In order of preference.
    chosen : ndarray of int16, shape (trims, tips)
        Which way each distinct tip takes at each tip trim; -1 where none leads to a fit.
    unknown : ndarray of bool, shape (tips,)
        Tips about which a measurement is missing.
    """

    ways: Sequence[Way]
    chosen: WayArray
    unknown: npt.NDArray[np.bool_]


def ways_of(index: MatchIndex, question: SubstituteQuestion, reference: Reference, trim_in: FloatArray) -> Ways:
    """Ways of getting the tips of the index in, first the preferred one.

    Parameters
    ----------
    index : MatchIndex
        The shafts.
    question : SubstituteQuestion
        The club, the shelf and the limits.
    reference : Reference
        The fitted club, computed.
    trim_in : ndarray, shape (trims,)
        Tip trims, in.
    """
    club = question.club
    gaps = question.limits.for_adhesive(question.adhesive)
    # a shaft comes without the fitted one's sleeve: what it needs is worked out afresh
    options = preparation_options(
        club.head,
        club.adapter,
        question.shelf,
        question.limits,
        gap_limits=gaps,
        insertion_in=club.insertion_in,
        settings=() if club.adapter is None else question.shelf.settings_by_adapter.get(club.adapter.id, ()),
        setting=question.setting,
    )
    made: list[tuple[BoreOption, Way]] = []
    for option in options:
        if question.without.intersection(option.operations):
            continue
        way = _way(option, question, reference)
        if way is not None:
            made.append((option, way))
    if not made:
        empty = np.full((len(trim_in), len(index.tips)), -1, dtype=np.int16)
        return Ways([], empty, np.ones(len(index.tips), dtype=bool))
    choice = choose_options([option for option, _ in made], index.tips, trim_in[:, None], gaps)
    used = np.unique(choice.option[choice.option >= 0])
    number = np.full(len(made) + 1, -1, dtype=np.int16)
    number[used] = np.arange(len(used))
    unknown = (choice.code == _NOT_KNOWN).all(axis=0)
    return Ways([made[int(k)][1] for k in used], number[choice.option], unknown)


_NOT_KNOWN = 3


def _way(option: BoreOption, question: SubstituteQuestion, reference: Reference) -> Way | None:
    club, base = question.club, reference.assembly.build
    try:
        hole = bored(club.head, option.adapter)
        lengths = cut(hole, club.playing_length_in, option.insertion_in, club.grip)
    except (BuildError, MissingDataError):
        return None
    head_g = club.head.weight_g
    if head_g is None:
        return None
    sleeve_g = 0.0 if club.sleeve is None or club.sleeve.weight_g is None else club.sleeve.weight_g
    added = 0.0 if option.added_mass_g is None else option.added_mass_g
    build = replace(
        base,
        cut_length_m=lengths.cut_length_in * IN,
        insertion_m=lengths.insertion_in * IN,
        grip_cap_m=lengths.grip_cap_in * IN,
        head_kg=head_g / 1000.0,
        head_cg_m=head_cg_in(club.head, hole)[0] * IN,
        head_added_kg=0.0,
        mouth_kg=base.mouth_kg + (added - sleeve_g) / 1000.0,
        target_moment_kg_m=reference.target_moment_kg_m,
        max_add_kg=reference.head_add_limit_g(question.max_head_add_g) / 1000.0,
    )
    return Way(build, option.cost, option, option.added_mass_g is None)
