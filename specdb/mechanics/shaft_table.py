"""Shafts as columns: what the mechanics need of many shafts, worked out once from catalogue rows.

This is the only place where published values and readings are turned into the numbers that are computed with.
One shaft is a table of one row, so a single club and a search over the whole catalogue use the same rules:

* stiffness: measured EI readings where the bench has at least four stations over half the shaft, else the
  published table, else the two-figure stiffness as a straight line with a large uncertainty, else none;
* weight, balance point, torque: the precision-weighted mean of the published figure and the bench readings; a torque
  reading between clamps of another distance than the rating's is first brought to that distance.

The result is a stiffness profile *with uncertainty*; whoever uses it need not know where it came from.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field, replace
from enum import IntEnum
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from specdb.errors import MissingDataError
from specdb.mechanics import defaults
from specdb.mechanics.constants import FT_LB, IN
from specdb.mechanics.profile import ShaftModel
from specdb.mechanics.stations import MIN_STATIONS, EiReadings, Stations, stations_from_readings, two_figure_stations
from specdb.records.rows import Shaft, ShaftReading

if TYPE_CHECKING:
    import pyarrow as pa

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

SHAFT_COLUMNS = (
    "id",
    "club_type",
    "raw_length_in",
    "weight_g",
    "torque_deg",
    "torque_gauge_in",
    "balance_from_tip_in",
    "tip_ei_n_m2",
    "tip_ei_at_in",
    "butt_ei_n_m2",
    "butt_ei_at_in",
)
READING_COLUMNS = ("shaft_id", "sample", "quantity", "value", "position_in", "free_length_in", "sd")
PUBLISHED = "published"
_TORQUE_SD = np.array([defaults.TORQUE_MEASURED_DEG, defaults.TORQUE_PUBLISHED_DEG])
_CODE = {quantity: number for number, quantity in enumerate(("ei", "weight", "balance", "torque"))}


class Knowledge(IntEnum):
    """What the stiffness of a shaft is known from."""

    NONE = 0
    PUBLISHED_TABLE = 1
    MEASURED_TABLE = 2
    TWO_FIGURES = 3


@dataclass(frozen=True, slots=True)
class ShaftTable:
    """Columns of N shafts, in SI unless the name says otherwise; NaN where unknown.

    Attributes
    ----------
    ids : list of str
        Keys, in the order of the rows.
    raw_length_m, mass_kg, mass_sd_kg, balance_m, balance_sd_m : ndarray, shape (N,)
        Raw shaft; the balance point is measured from the raw tip end.
    twist_rad_per_nm, twist_sd, twist_from_m, twist_to_m : ndarray, shape (N,)
        Torque rating per newton metre and the gauge span it holds for.
    knowledge : ndarray of int, shape (N,)
        A :class:`Knowledge` a shaft.
    stations : Stations
        EI stations of all shafts, row after row.
    common_sd, shape_sd, shape_length_m : ndarray, shape (N,)
        Uncertainty of ln EI: common to the whole shaft; of its shape, with the length along which that is
        correlated. Each station adds its own (``stations.log_sd``).
    assumptions : dict of str to ndarray of bool, shape (N,)
        Which stated assumption applies to which shaft.
    """

    ids: list[str]
    raw_length_m: FloatArray
    mass_kg: FloatArray
    mass_sd_kg: FloatArray
    balance_m: FloatArray
    balance_sd_m: FloatArray
    twist_rad_per_nm: FloatArray
    twist_sd: FloatArray
    twist_from_m: FloatArray
    twist_to_m: FloatArray
    knowledge: IntArray
    stations: Stations
    common_sd: FloatArray
    shape_sd: FloatArray
    shape_length_m: FloatArray
    assumptions: dict[str, npt.NDArray[np.bool_]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.ids)

    @property
    def computable(self) -> npt.NDArray[np.bool_]:
        """Whether a shaft has all that the mechanics need (stiffness, raw length, weight), shape (N,)."""
        ok: npt.NDArray[np.bool_] = (
            (self.knowledge != Knowledge.NONE) & np.isfinite(self.raw_length_m) & np.isfinite(self.mass_kg)
        )
        return ok

    def missing(self, row: int) -> list[str]:
        """Name the measurements without which a shaft cannot be computed.

        Parameters
        ----------
        row : int
            Row of the shaft.
        """
        found = []
        if not np.isfinite(self.raw_length_m[row]):
            found.append("raw_length_in")
        if not np.isfinite(self.mass_kg[row]):
            found.append("weight_g")
        if self.knowledge[row] == Knowledge.NONE:
            found.append(
                f"stiffness (EI at {MIN_STATIONS} stations or more over a third of the length, "
                "or tip_ei_n_m2 and butt_ei_n_m2)"
            )
        return found

    def assumed(self, row: int) -> list[str]:
        """Plain sentences for what was assumed about a shaft.

        Parameters
        ----------
        row : int
            Row of the shaft.
        """
        return [sentence for sentence, applies in self.assumptions.items() if applies[row]]

    def model(self, row: int) -> ShaftModel:
        """The shaft of one row, ready for the exact mechanics.

        Parameters
        ----------
        row : int
            Row of the shaft.

        Raises
        ------
        MissingDataError
            If stiffness, raw length or weight are unknown; ``missing`` names them.
        """
        missing = self.missing(row)
        if missing:
            raise MissingDataError(f"{self.ids[row]} cannot be computed without {', '.join(missing)}", missing)
        position, ei, log_sd = self.stations.of(row)
        gap = (position[:, None] - position[None, :]) / self.shape_length_m[row]
        covariance = self.common_sd[row] ** 2 + self.shape_sd[row] ** 2 * np.exp(-0.5 * gap**2) + np.diag(log_sd**2)
        known_balance = np.isfinite(self.balance_m[row])
        known_twist = np.isfinite(self.twist_rad_per_nm[row])
        return ShaftModel(
            raw_length_m=float(self.raw_length_m[row]),
            station_m=position,
            ei_n_m2=ei,
            log_ei_cov=covariance,
            mass_kg=float(self.mass_kg[row]),
            mass_sd_kg=float(self.mass_sd_kg[row]),
            balance_from_tip_m=float(self.balance_m[row]) if known_balance else None,
            balance_sd_m=float(self.balance_sd_m[row]),
            twist_rad_per_nm=float(self.twist_rad_per_nm[row]) if known_twist else None,
            twist_sd=float(self.twist_sd[row]) if known_twist else 0.0,
            twist_from_m=float(self.twist_from_m[row]),
            twist_to_m=float(self.twist_to_m[row]),
        )

    @classmethod
    def from_records(cls, shafts: Sequence[Shaft], readings: Iterable[ShaftReading] = ()) -> ShaftTable:
        """Columns of a few shafts given as records.

        Parameters
        ----------
        shafts : sequence of Shaft
            The shafts, in the order wanted.
        readings : iterable of ShaftReading
            Readings of these shafts, in any order.
        """
        columns: dict[str, Any] = {name: [getattr(s, name) for s in shafts] for name in SHAFT_COLUMNS}
        rows = [asdict(r) for r in readings]
        taken: dict[str, Any] = {name: [r[name] for r in rows] for name in READING_COLUMNS}
        row_of = {s.id: i for i, s in enumerate(shafts)}
        owner = np.array([row_of.get(i, -1) for i in taken["shaft_id"]], dtype=np.int64)
        return _build(
            [s.id for s in shafts],
            {k: _floats(v) for k, v in columns.items() if k not in ("id", "club_type")},
            _Readings(
                owner=owner,
                quantity=np.array([_CODE.get(q, -1) for q in taken["quantity"]], dtype=np.int8),
                published=np.array([s == PUBLISHED for s in taken["sample"]], dtype=bool),
                value=_floats(taken["value"]),
                position_m=_floats(taken["position_in"]) * IN,
                sd=_floats(taken["sd"]),
                length_in=_floats(taken["free_length_in"]),
            ),
        )

    @classmethod
    def from_arrow(cls, shafts: pa.Table, readings: pa.Table) -> ShaftTable:
        """Columns of many shafts, given as Arrow tables straight from the catalogue.

        Parameters
        ----------
        shafts : pyarrow.Table
            With the columns of ``SHAFT_COLUMNS``.
        readings : pyarrow.Table
            With the columns of ``READING_COLUMNS``, in any order of rows.
        """
        import pyarrow as pa  # already loaded by whoever made the tables
        import pyarrow.compute as pc

        ids = shafts.column("id").combine_chunks()
        owner = pc.fill_null(pc.index_in(readings.column("shaft_id"), value_set=ids), -1)
        quantity = readings.column("quantity")
        coded = quantity.combine_chunks()
        if not pa.types.is_dictionary(coded.type):
            coded = coded.dictionary_encode()
        meaning = np.array([_CODE.get(q, -1) for q in coded.dictionary.to_pylist()], dtype=np.int8)
        codes = coded.indices.to_numpy(zero_copy_only=False)
        return _build(
            ids.to_pylist(),
            {name: column(shafts, name) for name in SHAFT_COLUMNS if name not in ("id", "club_type")},
            _Readings(
                owner=owner.to_numpy().astype(np.int64),
                quantity=meaning[codes],
                published=pc.equal(readings.column("sample"), PUBLISHED).to_numpy(),
                value=column(readings, "value"),
                position_m=column(readings, "position_in") * IN,
                sd=column(readings, "sd"),
                length_in=column(readings, "free_length_in"),
            ),
        )


@dataclass(frozen=True, slots=True)
class _Readings:
    owner: IntArray
    quantity: npt.NDArray[np.int8]
    published: npt.NDArray[np.bool_]
    value: FloatArray
    position_m: FloatArray
    sd: FloatArray
    length_in: FloatArray

    def only(self, quantity: str) -> _Readings:
        keep = (self.quantity == _CODE[quantity]) & (self.owner >= 0) & np.isfinite(self.value)
        if keep.all():
            return self
        return _Readings(
            self.owner[keep],
            self.quantity[keep],
            self.published[keep],
            self.value[keep],
            self.position_m[keep],
            self.sd[keep],
            self.length_in[keep],
        )


def _floats(values: Iterable[float | None]) -> FloatArray:
    return np.array([np.nan if v is None else v for v in values], dtype=np.float64)


def column(table: pa.Table, name: str) -> FloatArray:
    """One number column of an Arrow table, NaN where null, shape (rows,).

    Parameters
    ----------
    table : pyarrow.Table
        The table.
    name : str
        The column.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    column = table.column(name)
    if column.null_count:
        column = pc.fill_null(column.cast(pa.float64()), np.nan)
    return np.asarray(column.to_numpy(), dtype=np.float64)


def _pool(
    count: int,
    published: FloatArray,
    published_sd: float,
    readings: _Readings,
    measured_sd: float,
    piece_sd: float,
) -> tuple[FloatArray, FloatArray]:
    """Precision-weighted mean of a published figure and the readings of it, with its standard deviation."""
    precision = np.where(np.isfinite(published), 1.0 / published_sd**2, 0.0)
    weighted = np.where(np.isfinite(published), published, 0.0) * precision
    default = np.where(readings.published, published_sd, measured_sd)
    own = np.where(np.isfinite(readings.sd), readings.sd, default)
    # a reading of one piece says less about the next piece than about itself
    weight = 1.0 / (own**2 + piece_sd**2)
    precision = precision + np.bincount(readings.owner, weight, count)
    weighted = weighted + np.bincount(readings.owner, weight * readings.value, count)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(precision > 0, weighted / precision, np.nan)
        sd = np.sqrt(np.where(precision > 0, 1.0 / precision, np.nan) + piece_sd**2)
    return mean, sd


def _over_gauge(readings: _Readings, raw_in: FloatArray, gauge_in: FloatArray, stations: Stations) -> _Readings:
    """Torque readings as they would be over the gauge of the rating, both spans about the middle of the raw shaft.

    Twist goes with ``∫ds/EI`` over the span; with the length alone where the stiffness is unknown.
    """
    own, rated = readings.length_in, gauge_in[readings.owner]
    factor = np.ones(len(own))
    with np.errstate(invalid="ignore"):
        other = np.abs(own - rated) > 1e-6  # not where either is unknown
    for i in np.flatnonzero(other).tolist():
        row = int(readings.owner[i])
        middle = float(raw_in[row]) / 2.0

        def over(length: float, row: int = row, middle: float = middle) -> float:
            return stations.flexibility(row, (middle - length / 2.0) * IN, (middle + length / 2.0) * IN)

        length = min(float(own[i]), 2.0 * middle)
        ratio = over(float(rated[i])) / over(length)
        factor[i] = ratio if np.isfinite(ratio) else float(rated[i]) / length
    return replace(
        readings,
        value=readings.value * factor,
        sd=np.where(np.isfinite(readings.sd), readings.sd, _TORQUE_SD[readings.published.astype(int)]) * factor,
    )


def _build(ids: list[str], shaft: dict[str, FloatArray], readings: _Readings) -> ShaftTable:
    n = len(ids)
    raw = shaft["raw_length_in"]
    mass, mass_sd = _pool(
        n,
        shaft["weight_g"],
        defaults.WEIGHT_PUBLISHED_G,
        readings.only("weight"),
        defaults.WEIGHT_MEASURED_G,
        defaults.WEIGHT_PIECE_G,
    )
    balance, balance_sd = _pool(
        n,
        shaft["balance_from_tip_in"],
        defaults.BALANCE_PUBLISHED_IN,
        readings.only("balance"),
        defaults.BALANCE_MEASURED_IN,
        0.0,
    )
    gauge = shaft["torque_gauge_in"]
    gauge_known = np.isfinite(gauge)
    gauge = np.where(gauge_known, np.minimum(gauge, raw), raw - 2.0)
    middle = raw / 2.0
    stations, knowledge, assumptions = _stiffness(n, shaft, readings.only("ei"))
    twisted = readings.only("torque")
    torque, torque_sd = _pool(
        n,
        shaft["torque_deg"],
        defaults.TORQUE_PUBLISHED_DEG,
        _over_gauge(twisted, raw, gauge, stations),
        defaults.TORQUE_MEASURED_DEG,
        0.0,
    )
    without_length = np.bincount(twisted.owner[~np.isfinite(twisted.length_in)], minlength=n) > 0
    gauge_matters = np.isfinite(shaft["torque_deg"]) | without_length
    two = knowledge == Knowledge.TWO_FIGURES
    known_balance = np.isfinite(balance)
    assumptions["balance point unknown: mass taken as uniform along the shaft"] = ~known_balance
    assumptions["torque gauge length unknown: raw length less 2 in taken"] = gauge_matters & ~gauge_known
    to_si = np.pi / 180.0 / FT_LB
    return ShaftTable(
        ids=ids,
        raw_length_m=raw * IN,
        mass_kg=mass / 1000.0,
        mass_sd_kg=mass_sd / 1000.0,
        balance_m=balance * IN,
        balance_sd_m=np.where(known_balance, balance_sd, defaults.BALANCE_UNKNOWN_FRACTION * raw) * IN,
        twist_rad_per_nm=torque * to_si,
        twist_sd=torque_sd * to_si,
        twist_from_m=(middle - gauge / 2.0) * IN,
        twist_to_m=(middle + gauge / 2.0) * IN,
        knowledge=knowledge,
        stations=stations,
        common_sd=np.where(two, defaults.TWO_FIGURE_COMMON_REL, defaults.EI_PIECE_REL),
        # a straight line between two stations says no more about the shape than two figures do
        shape_sd=np.where(two | (stations.count == 2), defaults.TWO_FIGURE_SHAPE_REL, 0.0),
        shape_length_m=np.full(n, defaults.TWO_FIGURE_SHAPE_LENGTH_IN * IN),
        assumptions=assumptions,
    )


def _stiffness(
    n: int, shaft: dict[str, FloatArray], ei: _Readings
) -> tuple[Stations, IntArray, dict[str, npt.NDArray[np.bool_]]]:
    table, from_bench, from_leaflet = stations_from_readings(
        n,
        EiReadings(ei.owner, ei.published, ei.value, ei.position_m, ei.sd),
        shaft["raw_length_in"] * IN,
    )
    line, two, assumed_at = two_figure_stations(shaft, ~(from_bench | from_leaflet))
    knowledge = np.full(n, int(Knowledge.NONE), dtype=np.int64)
    knowledge[from_leaflet] = Knowledge.PUBLISHED_TABLE
    knowledge[from_bench] = Knowledge.MEASURED_TABLE
    knowledge[two] = Knowledge.TWO_FIGURES
    assumptions = {
        f"EI readings too few for a profile ({MIN_STATIONS} stations over a third of the length): not used": two
        & (np.bincount(ei.owner, minlength=n) > 0),
        "stiffness known at two figures only: a straight line between them, with a large uncertainty": two,
        "place of the tip or butt stiffness figure unknown: "
        f"{defaults.TWO_FIGURE_TIP_AT_IN:g} in from the tip, "
        f"{defaults.TWO_FIGURE_BUTT_FROM_END_IN:g} in from the butt taken": assumed_at,
    }
    return (table.with_rows_from(line) if two.any() else table), knowledge, assumptions
