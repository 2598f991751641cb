"""The matching index: everything about the shafts that does not depend on the question.

It carries its recipe; a change of the recipe or of the catalogue makes a new index, never a mixture.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from specdb.fitup.geometry import TipArrays, TipReadings
from specdb.fitup.tips import diameter_readings
from specdb.mechanics import defaults
from specdb.mechanics.cells import CELL_M, cell_means
from specdb.mechanics.club import FEATURES
from specdb.mechanics.constants import IN
from specdb.mechanics.estimated import EstimatedProfiles
from specdb.mechanics.fast import FastShafts
from specdb.mechanics.profile import ShaftModel
from specdb.mechanics.shaft_columns import column
from specdb.mechanics.shaft_table import READING_COLUMNS, SHAFT_COLUMNS, ShaftTable
from specdb.records.rows import ShaftReading

if TYPE_CHECKING:
    import pyarrow as pa

FloatArray = npt.NDArray[np.float64]
Float32Array = npt.NDArray[np.float32]
BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

_CHUNK = 8192

INDEX_SHAFT_COLUMNS = (
    *SHAFT_COLUMNS,
    "club_number",
    "material",
    "status",
    "tip_dia_in",
    "tip_form",
    "tip_parallel_in",
    "tip_growth_in_per_in",
    "max_tip_trim_in",
    "price",
)
INDEX_READING_COLUMNS = READING_COLUMNS
INDEX_READING_WHERE = ("ei", "weight", "balance", "torque", "outside_diameter")


@dataclass(frozen=True, slots=True)
class Recipe:
    """How an index was made; two indexes with different recipes are not comparable."""

    version: int = 2
    cell_m: float = CELL_M
    features: tuple[str, ...] = tuple(FEATURES)


_MODELS_KEPT = 4_096


@dataclass(frozen=True, slots=True)
class Words:
    """A column of words, as codes.

    Attributes
    ----------
    words : tuple of str or None
        The distinct words; None where unknown.
    codes : ndarray of int, shape (N,)
        Which word each row has.
    """

    words: tuple[str | None, ...]
    codes: npt.NDArray[np.int32]

    def __getitem__(self, row: int) -> str | None:
        return self.words[int(self.codes[row])]

    def among(self, wanted: Collection[str]) -> BoolArray:
        """Rows whose word is one of those wanted, shape (N,).

        Parameters
        ----------
        wanted : collection of str
            The words.
        """
        return np.array([w in wanted for w in self.words], dtype=bool)[self.codes]


@dataclass(frozen=True, slots=True)
class MatchIndex:
    """Columns of N shafts for the matching engine.

    Attributes
    ----------
    recipe : Recipe
        How it was made.
    table : ShaftTable
        What the mechanics need.
    fast : FastShafts
        Cell table and mass lines for screening.
    club_type, club_number, material : Words, N rows
        As in the catalogue; None where unknown.
    retired : ndarray of bool, shape (N,)
        Shafts no longer proposed.
    tips : TipArrays
        Tip geometry of the *distinct* tips.
    tip_of : ndarray of int, shape (N,)
        Which of ``tips`` a shaft has.
    trim_limit_in : ndarray, shape (N,)
        Most tip trim; a stated default where the maker gives none.
    trim_assumed : ndarray of bool, shape (N,)
        Where that default was taken.
    price : ndarray, shape (N,)
        NaN where unknown.
    mass_ok : ndarray of bool, shape (N,)
        Whether the mass line is positive along the shaft.
    ei_floor : ndarray, shape (N,)
        Least variance of a mean of ln EI with weights that add up to one.
    """

    recipe: Recipe
    table: ShaftTable
    fast: FastShafts
    club_type: Words
    club_number: Words
    material: Words
    retired: BoolArray
    tips: TipArrays
    tip_of: IntArray
    trim_limit_in: FloatArray
    trim_assumed: BoolArray
    price: FloatArray
    mass_ok: BoolArray
    ei_floor: FloatArray
    _models: dict[int, ShaftModel] = field(default_factory=dict, repr=False, compare=False)

    def __len__(self) -> int:
        return len(self.table)

    def model(self, row: int) -> ShaftModel:
        """The mechanics' view of one shaft; those asked for last are kept, as near shafts are asked for again.

        Parameters
        ----------
        row : int
            Its row.
        """
        found = self._models.get(row)
        if found is None:
            if len(self._models) >= _MODELS_KEPT:
                self._models.clear()
            found = self._models[row] = self.table.model(row)
        return found

    def row_of(self, shaft_id: str) -> int:
        """Row of a shaft, or -1.

        Parameters
        ----------
        shaft_id : str
            Key of the shaft.
        """
        try:
            return self.table.ids.index(shaft_id)
        except ValueError:
            return -1


def build_index(shafts: pa.Table, readings: pa.Table, estimates: EstimatedProfiles | None = None) -> MatchIndex:
    """Make the index from catalogue columns.

    Parameters
    ----------
    shafts : pyarrow.Table
        With ``INDEX_SHAFT_COLUMNS``; rows of one tip form and diameter next to each other make searching faster.
    readings : pyarrow.Table
        With ``INDEX_READING_COLUMNS``; quantities other than ``INDEX_READING_WHERE`` are not needed.
    estimates : EstimatedProfiles, optional
        Estimates of shafts without a complete EI table.
    """
    table = ShaftTable.from_arrow(shafts, readings)
    if estimates is not None:
        table = table.with_estimates(estimates)
    fast, mass_ok = _fast_columns(table)
    form = _words(shafts, "tip_form")
    tips, tip_of = _distinct_tips(shafts, readings)
    limit = column(shafts, "max_tip_trim_in")
    unsaid = ~np.isfinite(limit)
    usual = np.where(form.among(("taper",)), defaults.MAX_TIP_TRIM_TAPER_IN, defaults.MAX_TIP_TRIM_PARALLEL_IN)
    return MatchIndex(
        recipe=Recipe(),
        table=table,
        fast=fast,
        club_type=_words(shafts, "club_type"),
        club_number=_words(shafts, "club_number"),
        material=_words(shafts, "material"),
        retired=_words(shafts, "status").among(("retired",)),
        tips=tips,
        tip_of=tip_of,
        trim_limit_in=np.where(unsaid, usual, limit),
        trim_assumed=unsaid,
        price=column(shafts, "price"),
        mass_ok=mass_ok,
        ei_floor=table.mean_variance_floor(),
    )


def _words(table: pa.Table, name: str) -> Words:
    coded = table.column(name).combine_chunks().dictionary_encode()
    words = (*coded.dictionary.to_pylist(), None)
    codes = coded.indices.fill_null(len(words) - 1).to_numpy(zero_copy_only=False)
    return Words(words, codes.astype(np.int32))


def _fast_columns(table: ShaftTable) -> tuple[FastShafts, BoolArray]:
    raw = table.raw_length_m
    finite = raw[np.isfinite(raw)]
    longest = float(finite.max()) if len(finite) else IN
    cells = cell_means(table.stations, int(np.ceil(longest / CELL_M)) + 1)
    # mass line a + c·s with the given mass and balance point; c = 0 where the balance point is unknown
    mass = table.mass_kg
    with np.errstate(invalid="ignore", divide="ignore"):
        offset = np.where(np.isfinite(table.balance_m), table.balance_m - raw / 2.0, 0.0)
        c = 12.0 * mass * offset / raw**3
        a = mass / raw - c * raw / 2.0
        mass_ok = np.nan_to_num(np.minimum(a, a + c * raw), nan=-1.0) > 0
    flexibility = _gauge_flexibility(table, cells.mean)
    with np.errstate(invalid="ignore", divide="ignore"):
        twist = table.twist_rad_per_nm / flexibility
    fast = FastShafts(cells, a.astype(np.float32), c.astype(np.float32), twist.astype(np.float32))
    return fast, mass_ok


def _gauge_flexibility(table: ShaftTable, mean: Float32Array) -> FloatArray:
    """``∫ ds/EI`` over each shaft's torque gauge, from the cell means."""
    rows, cells = mean.shape
    places = np.stack([table.twist_from_m, table.twist_to_m], axis=1) / CELL_M
    places = np.clip(np.nan_to_num(places), 0.0, cells - 1e-6)
    whole = places.astype(np.int64)
    total = np.empty((rows, 2))
    for start in range(0, rows, _CHUNK):
        part = slice(start, start + _CHUNK)
        prefix = np.zeros((len(mean[part]), cells + 1))
        np.cumsum(mean[part], axis=1, out=prefix[:, 1:])
        upto = np.take_along_axis(prefix, whole[part], axis=1)
        within = (places[part] - whole[part]) * np.take_along_axis(mean[part], whole[part], axis=1)
        total[part] = upto + within
    return np.asarray((total[:, 1] - total[:, 0]) * CELL_M)


def _distinct_tips(shafts: pa.Table, readings: pa.Table) -> tuple[TipArrays, IntArray]:
    """The distinct tips, and which one each shaft has; a shaft with diameter readings has a tip of its own."""
    dia, parallel, growth = (column(shafts, n) for n in ("tip_dia_in", "tip_parallel_in", "tip_growth_in_per_in"))
    form = _words(shafts, "tip_form")
    kind = np.where(form.among(("taper",)), 1.0, np.where(form.among(("parallel",)), 0.0, np.nan))
    columns = np.nan_to_num(np.stack([dia, parallel, growth, kind], axis=1), nan=-1.0)
    # one number a row is much quicker to make distinct than rows are
    key = np.round(columns * 1e5).astype(np.int64) @ np.array([1, 1_000_003, 7_368_787, 5_915_587_277])
    measured = _measured_tips(shafts, readings)
    for row in measured:
        key[row] = np.iinfo(np.int64).min + row
    _, first, tip_of = np.unique(key, return_index=True, return_inverse=True)
    start, position, diameter = [0], [], []
    for row in first.tolist():
        places, values = measured.get(row, ([], []))
        position += places
        diameter += values
        start.append(len(position))
    tips = TipArrays(
        tip_dia_in=np.where(np.isfinite(kind[first]), dia[first], np.nan),
        parallel_in=parallel[first],
        growth_in_per_in=growth[first],
        taper=kind[first] == 1.0,
        readings=TipReadings(np.array(start, dtype=np.int64), np.array(position), np.array(diameter))
        if position
        else None,
    )
    return tips, tip_of.astype(np.int64)


def _measured_tips(shafts: pa.Table, readings: pa.Table) -> dict[int, tuple[list[float], list[float]]]:
    """Places and outside diameters of the shafts that have readings of them, by row."""
    import pyarrow.compute as pc

    taken = readings.filter(pc.equal(readings.column("quantity"), "outside_diameter"))
    if not taken.num_rows:
        return {}
    rows = pc.index_in(taken.column("shaft_id"), value_set=shafts.column("id").combine_chunks())
    records = [
        ShaftReading(
            id="", **{name: entry[name] for name in ("shaft_id", "sample", "quantity", "value", "position_in")}
        )
        for entry in taken.to_pylist()
    ]
    by_row: dict[int, list[ShaftReading]] = {}
    for row, record in zip(rows.to_pylist(), records, strict=True):
        if row is not None:
            by_row.setdefault(row, []).append(record)
    return {row: diameter_readings(own, own[0].shaft_id) for row, own in by_row.items()}
