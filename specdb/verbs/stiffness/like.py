"""Which shafts of the catalogue a shaft is most like, raw against raw, for browsing."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import MissingDataError, UsageError
from specdb.verbs.catalogue.holdings import free_pieces
from specdb.verbs.stiffness.corrections import corrected_columns
from specdb.verbs.stiffness.estimates import kept_columns

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    import pyarrow as pa

    from specdb.matching.neighbours import Neighbours
    from specdb.matching.raw_words import RawDifference
    from specdb.mechanics.shaft_table import ShaftTable
    from specdb.profiles.columns import EstimateColumns

    FloatArray = npt.NDArray[np.float64]
    BoolArray = npt.NDArray[np.bool_]

ROUGH = 1.0  # units of doubt from which a shaft counts as known only roughly (a stated judgement, no source)
_KNOWN_FROM = ("nothing", "published table", "measured table", "two figures", "estimate")
_OTHER_TYPE = "sold for another kind of club (--any-club-type lets them in)"
_RETIRED = "retired"
_NONE_FREE = "none free"
_UNKNOWN = "raw length or stiffness unknown"


@dataclass(frozen=True, slots=True)
class Neighbour:
    """One shaft that is like the one asked for.

    Attributes
    ----------
    shaft_id, club_type : str
        Its key, and the kind of club it is sold for.
    distance : float
        Root mean square difference in units, doubt about both shafts in it.
    apart, doubt : float
        The differences and the doubt alone: ``distance² = apart² + doubt²``.
    known_from : str
        What its stiffness is known from.
    rough : bool
        Whether it is known only roughly.
    in_stock : int or None
        Pieces that are kept for nobody; None where the shop books no shafts.
    differences : tuple of RawDifference
        Figure by figure, stiffness by thirds.
    summary : str
        What stands out, in words.
    """

    shaft_id: str
    club_type: str
    distance: float
    apart: float
    doubt: float
    known_from: str
    rough: bool
    in_stock: int | None
    differences: tuple[RawDifference, ...]
    summary: str


@dataclass(frozen=True, slots=True)
class LikeAnswer:
    """The shafts that a shaft is most like.

    Attributes
    ----------
    shaft_id, club_type, known_from : str
        The shaft asked for.
    rough : bool
        Whether it is known only roughly itself.
    results : tuple of Neighbour
        Nearest first; at the same distance in the order of their keys.
    looked_at : int
        Shafts that could have been found.
    left_out : dict of str to int
        How many were not looked at, by reason.
    not_compared : tuple of str
        Figures that are unknown of the shaft asked for.
    """

    shaft_id: str
    club_type: str
    known_from: str
    rough: bool
    results: tuple[Neighbour, ...]
    looked_at: int
    left_out: dict[str, int]
    not_compared: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """The answer as plain values, units in the names."""
        from specdb.matching.neighbours import PLACES, RAW_FEATURES

        return {
            "shaft": self.shaft_id,
            "club_type": self.club_type,
            "known_from": self.known_from,
            "known_roughly": self.rough,
            "one_unit": {"ei_pct": 100.0 * RAW_FEATURES[0].one_unit}
            | {f.key: f.one_unit for f in RAW_FEATURES[PLACES:]},
            "results": [
                {
                    "rank": rank,
                    "shaft_id": n.shaft_id,
                    "club_type": n.club_type,
                    "distance": n.distance,
                    "distance_without_doubt": n.apart,
                    "doubt": n.doubt,
                    "known_from": n.known_from,
                    "known_roughly": n.rough,
                    "in_stock": n.in_stock,
                    "differences": [asdict(d) for d in n.differences],
                    "summary": n.summary,
                }
                for rank, n in enumerate(self.results, start=1)
            ],
            "looked_at": self.looked_at,
            "left_out": self.left_out,
            "not_compared": list(self.not_compared),
        }


def like(
    catalogue: Catalogue, shaft_id: str, *, top: int = 10, in_stock: bool = False, any_club_type: bool = False
) -> LikeAnswer:
    """Find the shafts that a shaft is most like as they come, uncut.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    shaft_id : str
        The shaft.
    top : int
        How many.
    in_stock : bool
        Only shafts of which a piece is free.
    any_club_type : bool
        Shafts for other kinds of club too.

    Raises
    ------
    NotFoundError
        If there is no such shaft; near matches are named.
    MissingDataError
        If its raw length or its stiffness is unknown.
    UsageError
        If none are asked for.
    """
    import numpy as np

    from specdb.matching.neighbours import neighbours

    if top < 1:
        raise UsageError("ask for one shaft or more")
    with catalogue.read() as reader:
        reader.get("shaft", shaft_id)
        shafts, table, estimates = _known_shafts(reader)
        stock = free_pieces(reader, "shaft")
    features, sd = _features(table, estimates)
    row = table.ids.index(shaft_id)
    known = np.isfinite(features[:, 0])
    if not known[row]:
        missing = [m for m in table.missing(row) if not m.startswith("weight")]
        raise MissingDataError(f"{shaft_id} is like nothing one can tell without {', '.join(missing)}", missing)
    kinds = np.array(shafts.column("club_type").to_pylist())
    left_out: Counter[str] = Counter()
    eligible = np.ones(len(table), dtype=np.bool_)
    eligible[row] = False
    for reason, fits in (
        (_OTHER_TYPE, (kinds == kinds[row]) | any_club_type),
        (_RETIRED, np.array(shafts.column("status").to_pylist()) != "retired"),
        (_NONE_FREE, np.array([stock.get(key, 0) > 0 for key in table.ids]) | (not in_stock)),
        (_UNKNOWN, known),
    ):
        gone = eligible & ~fits
        if gone.any():
            left_out[reason] = int(gone.sum())
        eligible &= fits
    group = np.unique(kinds, return_inverse=True)[1]
    found = neighbours(features, sd, row, top=top, eligible=eligible, group=group)
    return _answer(table, kinds, features, sd, row, found, stock, int(eligible.sum()), dict(left_out))


def _known_shafts(reader: Reader) -> tuple[pa.Table, ShaftTable, EstimateColumns]:
    """All shafts by key, with what is known of them and their kept estimates."""
    from specdb.mechanics.shaft_table import READING_COLUMNS, SHAFT_COLUMNS, ShaftTable

    shafts = reader.arrow("shaft", (*SHAFT_COLUMNS, "status"), order_by=("id",))
    wanted = "quantity in ('ei', 'weight', 'balance', 'torque')"
    readings = corrected_columns(reader, READING_COLUMNS, where=wanted)
    estimates = kept_columns(reader)
    table = ShaftTable.from_arrow(shafts, readings)
    return shafts, table.with_estimates(estimates.profiles()) if len(estimates) else table, estimates


def _features(table: ShaftTable, estimates: EstimateColumns) -> tuple[FloatArray, FloatArray]:
    """Features of all shafts; a torque or balance point that nobody told is taken from the estimate."""
    import numpy as np

    from specdb.matching.neighbours import BALANCE, TORQUE
    from specdb.matching.raw_shafts import raw_features
    from specdb.mechanics.constants import DEG, FT_LB

    features, sd = raw_features(table)
    for row in np.flatnonzero(~np.isfinite(features[:, (BALANCE, TORQUE)]).all(axis=1)).tolist():
        which = int(table.estimate_of[row]) if table.estimate_of.size else -1
        if which < 0:
            continue
        gauge = (float(table.twist_from_m[row]), float(table.twist_to_m[row]))
        figures = estimates.figures(which, float(table.raw_length_m[row]), gauge)
        balance, balance_sd, twist, twist_sd = figures
        if np.isnan(features[row, BALANCE]):
            features[row, BALANCE], sd[row, BALANCE] = 100.0 * balance, 100.0 * balance_sd
        if np.isnan(features[row, TORQUE]):
            features[row, TORQUE], sd[row, TORQUE] = twist * FT_LB / DEG, twist_sd * FT_LB / DEG
    return features, sd


def _answer(
    table: ShaftTable,
    kinds: npt.NDArray[np.str_],
    features: FloatArray,
    sd: FloatArray,
    row: int,
    found: Neighbours,
    stock: dict[str, int],
    looked_at: int,
    left_out: dict[str, int],
) -> LikeAnswer:
    import numpy as np

    from specdb.matching.neighbours import RAW_FEATURES, in_units
    from specdb.matching.raw_words import differences, summary

    def doubt_of(shaft: int) -> float:
        return float(np.sqrt(np.nansum(np.square(in_units(sd[shaft], np.isfinite(sd[shaft]))))))

    results = []
    for place, i in enumerate(found.rows.tolist()):
        apart = differences(features[row], sd[row], features[i], sd[i])
        results.append(
            Neighbour(
                shaft_id=table.ids[i],
                club_type=str(kinds[i]),
                distance=float(found.distance[place]),
                apart=float(found.apart[place]),
                doubt=float(found.doubt[place]),
                known_from=_KNOWN_FROM[int(table.knowledge[i])],
                rough=doubt_of(i) >= ROUGH,
                in_stock=stock.get(table.ids[i], 0) if stock else None,
                differences=apart,
                summary=summary(apart),
            )
        )
    return LikeAnswer(
        shaft_id=table.ids[row],
        club_type=str(kinds[row]),
        known_from=_KNOWN_FROM[int(table.knowledge[row])],
        rough=doubt_of(row) >= ROUGH,
        results=tuple(results),
        looked_at=looked_at,
        left_out=left_out,
        not_compared=tuple(f.title for f, c in zip(RAW_FEATURES, found.compared, strict=True) if not c),
    )
