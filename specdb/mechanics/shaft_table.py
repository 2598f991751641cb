"""Shafts as columns: what the mechanics need of many shafts, worked out once from catalogue rows.

This is the only place where published values and readings are turned into the numbers that are computed with.
One shaft is a table of one row, so a single club and a search over the whole catalogue use the same rules:

* stiffness: the estimate where one is given (shafts without a complete EI table have one, once it is worked out);
  else measured EI readings where the bench has at least four stations over half the shaft, else the published table,
  else the two-figure stiffness as a straight line with a large uncertainty, else none;
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
from specdb.mechanics.estimated import EstimatedProfiles, complete
from specdb.mechanics.profile import ShaftModel
from specdb.mechanics.shaft_columns import QUANTITY_CODE, Readings, column, floats, over_gauge, pool
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


class Knowledge(IntEnum):
    """What the stiffness of a shaft is known from."""

    NONE = 0
    PUBLISHED_TABLE = 1
    MEASURED_TABLE = 2
    TWO_FIGURES = 3
    ESTIMATED = 4


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
    estimates : EstimatedProfiles or None
        Estimates, whose covariance counts instead of the three standard deviations above.
    estimate_of : ndarray of int, shape (N,)
        Which of them a shaft has; -1 where none.
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
    estimates: EstimatedProfiles | None = None
    estimate_of: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))

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
                "tip_ei_n_m2 and butt_ei_n_m2, or an estimate: 'specdb estimate')"
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
        if self.estimates is not None and self.estimate_of[row] >= 0:
            covariance = self.estimates.covariance(int(self.estimate_of[row]))
        else:
            gap = (position[:, None] - position[None, :]) / self.shape_length_m[row]
            shape = self.shape_sd[row] ** 2 * np.exp(-0.5 * gap**2)
            covariance = self.common_sd[row] ** 2 + shape + np.diag(log_sd**2)
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

    @property
    def complete(self) -> npt.NDArray[np.bool_]:
        """Whether a shaft has a complete EI table, which needs no estimate, shape (N,)."""
        first, last = np.full(len(self), np.nan), np.full(len(self), np.nan)
        have = self.stations.count > 0
        offset = self.stations.offset
        first[have] = self.stations.position_m[offset[:-1][have]]
        last[have] = self.stations.position_m[offset[1:][have] - 1]
        tabled = (self.knowledge == Knowledge.PUBLISHED_TABLE) | (self.knowledge == Knowledge.MEASURED_TABLE)
        whole: npt.NDArray[np.bool_] = tabled & complete(self.stations.count, first, last, self.raw_length_m)
        return whole

    def mean_variance_floor(self) -> FloatArray:
        """Least variance of a mean of ln EI with weights that add up to one, shape (N,)."""
        count = self.stations.count
        smallest = np.zeros(len(self))
        have = count > 0
        smallest[have] = np.minimum.reduceat(self.stations.log_sd, self.stations.offset[:-1][have])
        floor: FloatArray = self.common_sd**2 + smallest**2 / np.maximum(count, 1)
        if self.estimates is not None:
            rows = np.flatnonzero(self.estimate_of >= 0)
            floor[rows] = self.estimates.least_mean_variance()[self.estimate_of[rows]]
        return floor

    def with_estimates(self, estimates: EstimatedProfiles) -> ShaftTable:
        """The table with estimates in place of what stations there are, for the shafts that have one.

        Parameters
        ----------
        estimates : EstimatedProfiles
            The estimates; those of shafts that are not in the table are passed over.
        """
        place = estimates.place_of(self.ids)
        use = (place >= 0) & np.isfinite(self.raw_length_m)
        if not use.any():
            return self
        rows = np.flatnonzero(use)
        nodes = estimates.node_t.size
        position = self.raw_length_m[rows, None] * estimates.node_t
        offset = np.concatenate([[0], np.cumsum(np.where(use, nodes, 0))]).astype(np.int64)
        given = Stations(offset, position.ravel(), estimates.ei_n_m2[place[rows]].ravel(), np.zeros(position.size))
        knowledge = self.knowledge.copy()
        knowledge[rows] = Knowledge.ESTIMATED
        mass, mass_sd = self.mass_kg.copy(), self.mass_sd_kg.copy()
        unweighed = rows[~np.isfinite(mass[rows])]
        mass[unweighed] = estimates.mass_kg[place[unweighed]]
        mass_sd[unweighed] = estimates.mass_sd_kg[place[unweighed]]
        assumptions = {
            sentence: applies & ~use if "stiffness" in sentence or "EI" in sentence else applies
            for sentence, applies in self.assumptions.items()
        }
        assumptions["stiffness estimated from what else is known of the shaft ('specdb profile' shows it)"] = use
        unknown = np.zeros(len(self), dtype=np.bool_)
        unknown[unweighed] = True
        assumptions["weight unknown: estimated from what else is known of the shaft"] = unknown
        return replace(
            self,
            stations=self.stations.only(~use).with_rows_from(given),
            knowledge=knowledge,
            mass_kg=mass,
            mass_sd_kg=mass_sd,
            assumptions=assumptions,
            estimates=estimates,
            estimate_of=np.where(use, place, -1),
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
            {k: floats(v) for k, v in columns.items() if k not in ("id", "club_type")},
            Readings(
                owner=owner,
                quantity=np.array([QUANTITY_CODE.get(q, -1) for q in taken["quantity"]], dtype=np.int8),
                published=np.array([s == PUBLISHED for s in taken["sample"]], dtype=bool),
                value=floats(taken["value"]),
                position_m=floats(taken["position_in"]) * IN,
                sd=floats(taken["sd"]),
                length_in=floats(taken["free_length_in"]),
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
        meaning = np.array([QUANTITY_CODE.get(q, -1) for q in coded.dictionary.to_pylist()], dtype=np.int8)
        codes = coded.indices.to_numpy(zero_copy_only=False)
        return _build(
            ids.to_pylist(),
            {name: column(shafts, name) for name in SHAFT_COLUMNS if name not in ("id", "club_type")},
            Readings(
                owner=owner.to_numpy().astype(np.int64),
                quantity=meaning[codes],
                published=pc.equal(readings.column("sample"), PUBLISHED).to_numpy(),
                value=column(readings, "value"),
                position_m=column(readings, "position_in") * IN,
                sd=column(readings, "sd"),
                length_in=column(readings, "free_length_in"),
            ),
        )


def _build(ids: list[str], shaft: dict[str, FloatArray], readings: Readings) -> ShaftTable:
    n = len(ids)
    raw = shaft["raw_length_in"]
    mass, mass_sd = pool(
        n,
        shaft["weight_g"],
        defaults.WEIGHT_PUBLISHED_G,
        readings.only("weight"),
        defaults.WEIGHT_MEASURED_G,
        defaults.WEIGHT_PIECE_G,
    )
    balance, balance_sd = pool(
        n,
        shaft["balance_from_tip_in"],
        defaults.BALANCE_PUBLISHED_IN,
        readings.only("balance"),
        defaults.BALANCE_MEASURED_IN,
        defaults.BALANCE_PIECE_IN,
    )
    gauge = shaft["torque_gauge_in"]
    gauge_known = np.isfinite(gauge)
    gauge = np.where(gauge_known, np.minimum(gauge, raw), raw - 2.0)
    middle = raw / 2.0
    stations, knowledge, assumptions = _stiffness(n, shaft, readings.only("ei"))
    twisted = readings.only("torque")
    torque, torque_sd = pool(
        n,
        shaft["torque_deg"],
        defaults.TORQUE_PUBLISHED_DEG,
        over_gauge(twisted, raw, gauge, stations),
        defaults.TORQUE_MEASURED_DEG,
        defaults.TORQUE_PIECE_DEG,
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
        mass_sd_kg=np.hypot(mass_sd, defaults.WEIGHT_LINE_G) / 1000.0,
        balance_m=balance * IN,
        balance_sd_m=np.where(
            known_balance, np.hypot(balance_sd, defaults.BALANCE_LINE_IN), defaults.BALANCE_UNKNOWN_FRACTION * raw
        )
        * IN,
        twist_rad_per_nm=torque * to_si,
        twist_sd=np.hypot(torque_sd, defaults.TORQUE_LINE_REL * torque) * to_si,
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
    n: int, shaft: dict[str, FloatArray], ei: Readings
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
