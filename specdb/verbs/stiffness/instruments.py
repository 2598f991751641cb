"""The shop's instruments: what they read against what is true, since when, and what is to be asked about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import NotFoundError
from specdb.schema import load_schema
from specdb.units import unit_label
from specdb.verbs.stiffness.corrections import calibrations_of

if TYPE_CHECKING:
    import datetime as dt

    from specdb.profiles.calibration import Calibration, Doubt


@dataclass(frozen=True, slots=True)
class Instrument:
    """One instrument and quantity with its calibrations.

    Attributes
    ----------
    name, quantity : str
        What it is.
    calibrations : tuple of Calibration
        In the order of their days; the last one holds now.
    """

    name: str
    quantity: str
    calibrations: tuple[Calibration, ...]

    @property
    def now(self) -> Calibration:
        """The calibration that holds now."""
        return self.calibrations[-1]

    @property
    def unit(self) -> str:
        """Unit for people."""
        return _unit(self.quantity)

    @property
    def count(self) -> int:
        """Reference readings in all."""
        return sum(c.count for c in self.calibrations)

    @property
    def drift(self) -> str:
        """A warning where the last calibration differs from the earlier ones; else empty."""
        drift = self.now.drift
        if drift is None or not drift.found:
            return ""
        more = "more" if drift.shift > 0.0 else "less"
        chance = "less than 0.1 %" if drift.chance < 0.001 else f"{100.0 * drift.chance:.1f} %"
        return (
            f"{self.name} now reads {abs(drift.shift):.3g} {self.unit} {more} than before (± {drift.sd:.2g}; chance "
            f"explains as much in {chance} of cases). Was it changed, moved or knocked? Readings from "
            f"{_day(self.now.first_day)} on are corrected by the last calibration alone."
        )

    def to_json(self) -> dict[str, Any]:
        """The instrument as plain values."""
        return {
            "instrument": self.name,
            "quantity": self.quantity,
            "unit": self.unit,
            "drift_warning": self.drift or None,
            "reference_readings": self.count,
            **_calibration_json(self.now),
            "calibrations": [_calibration_json(c) for c in self.calibrations],
        }


@dataclass(frozen=True, slots=True)
class Uncalibrated:
    """An instrument that shafts were read with and no reference was.

    Attributes
    ----------
    name, quantity : str
        What it is.
    readings : int
        Readings of shafts.
    """

    name: str
    quantity: str
    readings: int


@dataclass(frozen=True, slots=True)
class InstrumentsAnswer:
    """The instruments of the shop.

    Attributes
    ----------
    instruments : tuple of Instrument
        Those that were calibrated.
    uncalibrated : tuple of Uncalibrated
        Those that were not.
    doubts : tuple of Doubt
        Reference readings to be asked about.
    """

    instruments: tuple[Instrument, ...]
    uncalibrated: tuple[Uncalibrated, ...]
    doubts: tuple[Doubt, ...]

    def to_json(self) -> dict[str, Any]:
        """The instruments as plain values."""
        return {
            "instruments": [i.to_json() for i in self.instruments],
            "uncalibrated": [
                {"instrument": u.name, "quantity": u.quantity, "shaft_readings": u.readings} for u in self.uncalibrated
            ],
            "questions": [
                {"instrument": d.instrument, "quantity": d.quantity, "message": d.message, "counted": d.used}
                for d in self.doubts
            ],
        }


def instruments_of(catalogue: Catalogue, name: str | None = None) -> InstrumentsAnswer:
    """What is known of the shop's instruments.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    name : str or None
        Only this one.

    Raises
    ------
    NotFoundError
        If nothing was ever read with an instrument of that name.
    """
    from difflib import get_close_matches

    from specdb.profiles.calibration import same_name

    with catalogue.read() as reader:
        found = calibrations_of(reader)
        used = _used(reader)
    instruments = [
        Instrument(every[-1].instrument, quantity, every)
        for key, quantity in sorted(found.keys)
        if (every := found.of(key, quantity))
    ]
    free = [u for u in used if (same_name(u.name), u.quantity) not in found.keys]
    doubts = list(found.doubts)
    if name is not None:
        names = {i.name for i in instruments} | {u.name for u in used} | {d.instrument for d in doubts}
        if same_name(name) not in {same_name(n) for n in names}:
            raise NotFoundError("instrument", name, get_close_matches(name, sorted(names), cutoff=0.4))
        instruments = [i for i in instruments if same_name(i.name) == same_name(name)]
        free = [u for u in free if same_name(u.name) == same_name(name)]
        doubts = [d for d in doubts if same_name(d.instrument) == same_name(name)]
    return InstrumentsAnswer(tuple(instruments), tuple(free), tuple(doubts))


def _used(reader: Reader) -> list[Uncalibrated]:
    """Instruments that shafts were read with."""
    from specdb.profiles.calibration import PUBLISHED, USUAL, same_name

    rows = reader.arrow("shaft_reading", ["instrument", "quantity", "sample"], where="instrument is not empty")
    counts = rows.group_by(["instrument", "quantity", "sample"]).aggregate([([], "count_all")])
    found: dict[tuple[str, str], Uncalibrated] = {}
    for row in counts.to_pylist():
        if row["sample"] == PUBLISHED or row["quantity"] not in USUAL:
            continue
        key = same_name(row["instrument"]), row["quantity"]
        before = found.get(key)
        readings = row["count_all"] + (0 if before is None else before.readings)
        found[key] = Uncalibrated(row["instrument"], row["quantity"], readings)
    return [found[key] for key in sorted(found)]


def _unit(quantity: str) -> str:
    return unit_label(load_schema().table("reference_reading").value_units[quantity])


def _day(day: dt.date | None) -> str:
    return "the first day" if day is None else day.isoformat()


def _calibration_json(c: Calibration) -> dict[str, Any]:
    return {
        "offset": c.offset,
        "offset_sd": float(c.covariance[0, 0] ** 0.5),
        "scale": c.scale,
        "scale_sd": float(c.covariance[1, 1] ** 0.5),
        "off_at_references": c.off[0],
        "off_at_references_sd": c.off[1],
        "residual_sd": c.residual_sd,
        "readings": c.count,
        "references": list(c.references),
        "true_low": c.low,
        "true_high": c.high,
        "first_day": None if c.first_day is None else c.first_day.isoformat(),
        "last_day": None if c.last_day is None else c.last_day.isoformat(),
        "shift": None if c.drift is None else c.drift.shift,
        "shift_sd": None if c.drift is None else c.drift.sd,
        "shift_chance": None if c.drift is None else c.drift.chance,
    }
