"""One item with everything about it: where its values come from, stock, supply, what refers to it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.records.rows import Shaft, ShaftReading
from specdb.schema import Table, load_schema
from specdb.verbs.catalogue.holdings import ShelfLine, shelf_lines, stocked_kinds
from specdb.verbs.catalogue.journal import JournalLine
from specdb.verbs.catalogue.kinds import table_of
from specdb.verbs.stiffness.corrections import Correction, corrections_of, with_corrections
from specdb.verbs.stiffness.estimates import kept_profiles

if TYPE_CHECKING:
    from specdb.mechanics.estimated import EstimatedProfiles

PUBLISHED = "published"
_MOST_KEYS = 12


@dataclass(frozen=True, slots=True)
class ReadingSummary:
    """Readings of one quantity from one source.

    Attributes
    ----------
    quantity, unit : str
        What was read, and its stored unit.
    source : str
        ``published`` or ``measured``.
    readings, pieces : int
        How many readings, on how many physical pieces (0 for published ones).
    stations_in : tuple of float or None
        First and last station from the raw tip, in, where there are stations.
    mean, low, high : float
        Of the values.
    """

    quantity: str
    unit: str
    source: str
    readings: int
    pieces: int
    stations_in: tuple[float, float] | None
    mean: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class UsedValue:
    """A value that the mechanics use, computed from what is published and what was measured.

    Attributes
    ----------
    name, unit : str
        What it is.
    value : float or None
        The value; None for what is a whole profile.
    sd : float or None
        Its standard deviation.
    origin : str
        Where it comes from, in words.
    """

    name: str
    unit: str
    value: float | None
    sd: float | None
    origin: str


@dataclass(frozen=True, slots=True)
class Referrers:
    """Rows of one kind that refer to an item.

    Attributes
    ----------
    kind : str
        Their kind.
    count : int
        How many.
    keys : tuple of str
        The first of them, where a person would know them.
    """

    kind: str
    count: int
    keys: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Details:
    """Everything about one item.

    Attributes
    ----------
    table : Table
        Its kind.
    key : str
        Its key.
    values : dict
        All its fields.
    readings : tuple of ReadingSummary
        For a shaft: what was read, published and measured apart.
    used : tuple of UsedValue
        For a shaft: what the mechanics use.
    assumed : tuple of str
        For a shaft: what the mechanics assume.
    shelf : ShelfLine or None
        Stock and supply, where stock is kept of the kind.
    settings : tuple of dict
        For an adapter: its settings.
    referred_by : tuple of Referrers
        What refers to it.
    last_change : JournalLine or None
        The latest change.
    corrected : tuple of Correction
        For a shaft: readings that are corrected for their instrument when they are computed with.
    """

    table: Table
    key: str
    values: dict[str, Any]
    readings: tuple[ReadingSummary, ...]
    used: tuple[UsedValue, ...]
    assumed: tuple[str, ...]
    shelf: ShelfLine | None
    settings: tuple[dict[str, Any], ...]
    referred_by: tuple[Referrers, ...]
    last_change: JournalLine | None
    corrected: tuple[Correction, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The details as plain values."""
        return {
            "kind": self.table.name,
            "id": self.key,
            "values": self.values,
            "readings": [asdict(r) for r in self.readings],
            "corrected": [c.to_json() for c in self.corrected],
            "used": [asdict(u) for u in self.used],
            "assumed": list(self.assumed),
            "stock": None if self.shelf is None else self.shelf.to_json(),
            "settings": list(self.settings),
            "referred_by": [asdict(r) for r in self.referred_by],
            "last_change": None if self.last_change is None else self.last_change.to_json(),
        }


def details_of(catalogue: Catalogue, kind: str, key: str) -> Details:
    """Everything about one item.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind, key : str
        The item.

    Raises
    ------
    NotFoundError
        If there is no such item; near matches are named.
    """
    table = table_of(kind)
    with catalogue.read() as reader:
        record = reader.get(table.name, key)
        readings = reader.readings_of(key) if table.name == "shaft" else []
        corrected = corrections_of(reader, readings)
        computed_with = with_corrections(readings, corrected)
        estimates = kept_profiles(reader, key) if table.name == "shaft" else None
        settings = reader.settings_of(key) if table.name == "adapter" else []
        shelf = None
        if table.name in stocked_kinds():
            lines = shelf_lines(reader, table.name, key)
            shelf = lines[0] if lines else ShelfLine(table.name, key, 0, 0, None, False)
        referred = referrers_of(reader, table, key)
        last = reader.history(table.name, key, limit=1)
    used, assumed = _used(record, computed_with, estimates) if table.name == "shaft" else ((), ())
    return Details(
        table=table,
        key=key,
        values=asdict(record),
        readings=summaries(readings),
        used=used,
        assumed=assumed,
        shelf=shelf,
        settings=tuple(asdict(s) for s in settings),
        referred_by=referred,
        last_change=JournalLine.of(last[0]) if last else None,
        corrected=corrected,
    )


def summaries(readings: Sequence[ShaftReading]) -> tuple[ReadingSummary, ...]:
    """Sum readings up by quantity, published and measured ones apart.

    Parameters
    ----------
    readings : sequence of ShaftReading
        Of one shaft.
    """
    units = load_schema().table("shaft_reading").value_units
    groups: dict[tuple[str, str], list[ShaftReading]] = {}
    for reading in readings:
        source = PUBLISHED if reading.sample == PUBLISHED else "measured"
        groups.setdefault((reading.quantity, source), []).append(reading)
    found = []
    for (quantity, source), group in sorted(groups.items()):
        values = [r.value for r in group]
        stations = [r.position_in for r in group if r.position_in is not None]
        found.append(
            ReadingSummary(
                quantity=quantity,
                unit=units.get(quantity, ""),
                source=source,
                readings=len(group),
                pieces=0 if source == PUBLISHED else len({r.sample for r in group}),
                stations_in=(min(stations), max(stations)) if stations else None,
                mean=sum(values) / len(values),
                low=min(values),
                high=max(values),
            )
        )
    return tuple(found)


def _used(
    shaft: Shaft, readings: Sequence[ShaftReading], estimates: EstimatedProfiles | None
) -> tuple[tuple[UsedValue, ...], tuple[str, ...]]:
    """What the mechanics make of a shaft."""
    from specdb.mechanics.constants import FT_LB, IN
    from specdb.mechanics.shaft_table import ShaftTable

    table = ShaftTable.from_records([shaft], list(readings))
    if estimates is not None:
        table = table.with_estimates(estimates)
    degrees = FT_LB * 180.0 / math.pi
    numbers = (
        ("weight", "g", table.mass_kg[0] * 1e3, table.mass_sd_kg[0] * 1e3, "weight", shaft.weight_g),
        (
            "balance point from tip",
            "in",
            table.balance_m[0] / IN,
            table.balance_sd_m[0] / IN,
            "balance",
            shaft.balance_from_tip_in,
        ),
        (
            "torque",
            "deg",
            table.twist_rad_per_nm[0] * degrees,
            table.twist_sd[0] * degrees,
            "torque",
            shaft.torque_deg,
        ),
    )
    used = [
        UsedValue(name, unit, _finite(value), _finite(sd), _origin(quantity, published is not None, readings))
        for name, unit, value, sd, quantity, published in numbers
        if math.isfinite(value)
    ]
    knowledge = table.knowledge[0].item()
    origin = {
        0: "unknown: not ranked as a stand-in until it is estimated or measured",
        1: "the published table of stations",
        2: "measured stations",
        3: "a straight line through the published tip and butt stiffness",
        4: "an estimate from everything that is known of it ('specdb profile' shows it)",
    }[int(knowledge)]
    used.append(UsedValue("stiffness profile", "n_m2", None, None, origin))
    return tuple(used), tuple(table.assumed(0))


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _origin(quantity: str, published: bool, readings: Sequence[ShaftReading]) -> str:
    count = sum(1 for r in readings if r.quantity == quantity)
    measured = f"{count} reading{'s' if count != 1 else ''}" if count else ""
    return " and ".join(part for part in ("the published figure" if published else "", measured) if part)


def referrers_of(reader: Reader, table: Table, key: str) -> tuple[Referrers, ...]:
    """What refers to an item, by kind.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    table : Table
        Kind of the item.
    key : str
        Its key.
    """
    if len(table.primary_key) != 1:
        return ()
    found = []
    quoted = key.replace("'", "''")
    for other in load_schema().tables.values():
        if other.internal:
            continue
        conditions = [f"{ref.field} = '{quoted}'" for ref in other.references if ref.table == table.name]
        conditions += [
            f"({f.references_by} = '{table.name}' and {f.name} = '{quoted}')"
            for f in other.fields
            if f.references_by is not None and table.name in other.field(f.references_by).enum
        ]
        if not conditions:
            continue
        # keys that nobody types are only counted
        listed = 0 if other.key_style == "digest" else _MOST_KEYS
        rows = reader.arrow(other.name, other.primary_key, where=" or ".join(conditions), order_by=other.primary_key)
        if rows.num_rows:
            columns = [rows[name].slice(0, listed).to_pylist() for name in other.primary_key]
            keys = tuple("/".join(map(str, parts)) for parts in zip(*columns, strict=True))
            found.append(Referrers(other.name, rows.num_rows, keys))
    return tuple(found)
