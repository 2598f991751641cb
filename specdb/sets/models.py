"""Models of shafts that could supply every club of a set.

Two kinds: one catalogue row for all clubs (a shaft that is cut to each of them), and rows that are sold by club number.
Rows by number belong together by maker, model, flex, tip form and tip diameter; where a number then stands more than
once, they are told apart by weight, as a maker sells a model in classes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from specdb.matching.index import MatchIndex
from specdb.sets.numbers import place_of

if TYPE_CHECKING:
    import pyarrow as pa

MODEL_COLUMNS = ("id", "maker", "model", "flex")
CLASS_GAP_G = 4.0  # weights further apart are two classes; within one, weights fall by a gram or two a club

_Group = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class NumberedModel:
    """Shafts of one model that are sold by club number.

    Attributes
    ----------
    title : str
        Maker, model and flex.
    row_by_place : mapping of int to int
        Row of the index by place on the scale of club numbers.
    """

    title: str
    row_by_place: Mapping[int, int]

    def rows(self, places: Sequence[int | None], stepped: int) -> tuple[int, ...] | None:
        """Rows for clubs, each one used ``stepped`` numbers up; None where a number is lacking.

        Parameters
        ----------
        places : sequence of int or None
            Places of the clubs.
        stepped : int
            How many numbers up; 0 is plain.
        """
        found = [None if p is None else self.row_by_place.get(p + stepped) for p in places]
        return None if None in found else tuple(r for r in found if r is not None)


@dataclass(frozen=True, slots=True)
class ShaftModels:
    """The models of a catalogue.

    Attributes
    ----------
    single : ndarray of bool, shape (N,)
        Rows of the index that are no shafts for one club number.
    numbered : tuple of NumberedModel
        Models by number.
    of_row : ndarray of int, shape (N,)
        Which of ``numbered`` a row belongs to; -1 none.
    nameless : ndarray of bool, shape (N,)
        Shafts for one club number whose maker and model are unknown, so that nothing tells which belong together.
    titles : sequence of str
        Maker, model and flex of every row, its key where they are unknown.
    """

    single: npt.NDArray[np.bool_]
    numbered: tuple[NumberedModel, ...]
    of_row: npt.NDArray[np.int64]
    nameless: npt.NDArray[np.bool_]
    titles: Sequence[str]


def shaft_models(index: MatchIndex, columns: pa.Table) -> ShaftModels:
    """Sort the shafts of an index into models.

    Parameters
    ----------
    index : MatchIndex
        The shafts.
    columns : pyarrow.Table
        With ``MODEL_COLUMNS``, the shafts of the index in any order.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    ids = index.table.ids
    at = pc.index_in(pa.array(ids, pa.string()), value_set=columns.column("id").combine_chunks().cast(pa.string()))
    maker, model, flex = (pc.take(columns.column(n), at).to_pylist() for n in MODEL_COLUMNS[1:])
    titles = [
        " ".join(w for w in words if w) if words[0] or words[1] else key
        for key, *words in zip(ids, maker, model, flex, strict=True)
    ]
    places = {word: place_of(word) for word in index.club_number.words}
    place = [places[word] for word in index.club_number.words]
    numbered_word = np.array([p is not None for p in place])
    has_number = numbered_word[index.club_number.codes]
    nameless = np.zeros(len(ids), dtype=bool)
    groups: dict[_Group, list[int]] = {}
    tips, tip_of = index.tips, index.tip_of
    for row in np.flatnonzero(has_number).tolist():
        if not maker[row] or not model[row]:
            nameless[row] = True
            continue
        tip = int(tip_of[row])
        dia = float(np.nan_to_num(tips.tip_dia_in[tip], nan=-1.0))
        key = (maker[row], model[row], flex[row], bool(tips.taper[tip]), round(dia, 3))
        groups.setdefault(key, []).append(row)
    of_row = np.full(len(ids), -1, dtype=np.int64)
    numbered: list[NumberedModel] = []
    for rows in groups.values():
        for some in _classes(rows, index, place):
            of_row[list(some.values())] = len(numbered)
            numbered.append(NumberedModel(titles[next(iter(some.values()))], some))
    return ShaftModels(~has_number, tuple(numbered), of_row, nameless, titles)


def _classes(rows: Sequence[int], index: MatchIndex, place: Sequence[int | None]) -> Iterator[dict[int, int]]:
    """The rows of one model by place, in weight classes where a place stands more than once."""

    def by_place(some: Sequence[int]) -> dict[int, int]:
        found: dict[int, int] = {}
        for row in sorted(some, key=lambda r: index.table.ids[r]):
            at = place[int(index.club_number.codes[row])]
            if at is not None:
                found.setdefault(at, row)
        return dict(sorted(found.items()))

    if len(by_place(rows)) == len(rows):
        yield by_place(rows)
        return
    weight = 1000.0 * np.nan_to_num(index.table.mass_kg)
    ordered = sorted(rows, key=lambda r: (float(weight[r]), index.table.ids[r]))
    start = 0
    for i in range(1, len(ordered) + 1):
        if i == len(ordered) or weight[ordered[i]] - weight[ordered[i - 1]] > CLASS_GAP_G:
            yield by_place(ordered[start:i])
            start = i
