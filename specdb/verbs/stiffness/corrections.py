"""Readings brought to what is true by the calibrations of the shop's instruments.

Whatever computes with readings takes them from here; what the catalogue stores stays as it was read. Without reference
readings nothing is looked at and nothing changes.

The error of a calibration is common to the readings it corrects, while what computes with readings takes their errors
as independent. So each of ``n`` readings of one quantity, on one shaft and by one calibration, counts with ``√n`` times
that error: their mean then is as unsure as it is, and differences between them are not taken as surer than they are.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Reader
from specdb.records.rows import ShaftReading
from specdb.schema import load_schema
from specdb.units import unit_label

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    import pyarrow as pa

    from specdb.profiles.calibration import Calibration, Calibrations

# what instruments are calibrated for, by what is measured on a finished club
_ON_CLUBS = {"weight": "weight", "head_weight": "weight", "frequency": "frequency"}
_NEEDED = ("shaft_id", "sample", "quantity", "value", "sd", "instrument", "taken_on")
_EPOCH = dt.date(1970, 1, 1)


@dataclass(frozen=True, slots=True)
class Correction:
    """One reading as it was read and as it is computed with.

    Attributes
    ----------
    reading : ShaftReading
        As stored.
    value, own_sd, common_sd : float
        Corrected, in the unit of the quantity, with the standard deviation of the reading and of the calibration.
    instrument : str
        The instrument.
    calibrated_on : date or None
        First day of the calibration.
    note : str
        What was taken where the day does not say which calibration holds; else empty.
    """

    reading: ShaftReading
    value: float
    own_sd: float
    common_sd: float
    instrument: str
    calibrated_on: dt.date | None
    note: str

    @property
    def sd(self) -> float:
        """Standard deviation of the corrected reading by itself."""
        return math.hypot(self.own_sd, self.common_sd)

    @property
    def unit(self) -> str:
        """Unit for people."""
        return unit_label(load_schema().table("shaft_reading").value_units[self.reading.quantity])

    @property
    def name(self) -> str:
        """What was read, where and on which piece."""
        r = self.reading
        words = "EI" if r.quantity == "ei" else r.quantity.replace("_", " ")
        place = f" at {r.position_in:g} in" if r.position_in is not None else ""
        if r.free_length_in is not None:
            place = f" at {r.free_length_in:g} in free length"
        return f"{words}{place}, {r.sample}"

    @property
    def told(self) -> str:
        """Both values in words, with the calibration."""
        day = "" if self.calibrated_on is None else f" of {self.calibrated_on.isoformat()}"
        note = f"; {self.note}" if self.note else ""
        return f"read {self.reading.value:.6g}, corrected {self.value:.4g} {self.unit} ({self.instrument}{day}{note})"

    def to_json(self) -> dict[str, Any]:
        """The correction as plain values."""
        return {
            "reading_id": self.reading.id,
            "name": self.name,
            "unit": self.unit,
            "read": self.reading.value,
            "corrected": self.value,
            "sd": self.sd,
            "instrument": self.instrument,
            "calibrated_on": None if self.calibrated_on is None else self.calibrated_on.isoformat(),
            "note": self.note,
        }


def calibrations_of(reader: Reader) -> Calibrations:
    """Calibrations of all instruments.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    """
    from specdb.profiles.calibrate import calibrate
    from specdb.profiles.calibration import Calibrations

    rows = reader.rows("reference_reading")
    return calibrate(rows) if rows else Calibrations()


def corrected_readings(reader: Reader, readings: Sequence[ShaftReading]) -> list[ShaftReading]:
    """Readings with what is true in place of what was read, and the standard deviation that then holds.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    readings : sequence of ShaftReading
        As stored.
    """
    return with_corrections(readings, corrections_of(reader, readings))


def with_corrections(readings: Sequence[ShaftReading], corrections: Sequence[Correction]) -> list[ShaftReading]:
    """Readings with the corrected values in place, and the standard deviations to compute with.

    Parameters
    ----------
    readings : sequence of ShaftReading
        As stored.
    corrections : sequence of Correction
        Of these readings.
    """
    found = {c.reading.id: c for c in corrections}
    sharing = Counter(_shared(c) for c in corrections)
    return [
        replace(r, value=c.value, sd=math.hypot(c.own_sd, math.sqrt(sharing[_shared(c)]) * c.common_sd))
        if (c := found.get(r.id))
        else r
        for r in readings
    ]


def _shared(c: Correction) -> tuple[object, ...]:
    """What readings with one common error have in common."""
    return c.reading.shaft_id, c.reading.quantity, c.instrument, c.calibrated_on


def corrections_of(reader: Reader, readings: Sequence[ShaftReading]) -> tuple[Correction, ...]:
    """What is corrected among readings, both values side by side.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    readings : sequence of ShaftReading
        As stored.
    """
    if not any(r.instrument for r in readings) or not reader.count("reference_reading"):
        return ()
    return corrected_by(calibrations_of(reader), readings)


def corrected_by(calibrations: Calibrations, readings: Sequence[ShaftReading]) -> tuple[Correction, ...]:
    """What calibrations correct among readings, both values side by side.

    Parameters
    ----------
    calibrations : Calibrations
        Of the instruments.
    readings : sequence of ShaftReading
        As read.
    """
    from specdb.profiles.calibration import corrected

    found = ((r, corrected(r, calibrations)) for r in readings)
    return tuple(
        Correction(r, c.value, c.own_sd, c.common_sd, c.calibration.instrument, c.calibration.first_day, c.note)
        for r, c in found
        if c is not None
    )


def corrected_on_club(
    calibrations: Calibrations | None,
    quantity: str,
    value: float,
    instrument: str | None,
    day: dt.date | None,
    *,
    club: str = "",
) -> Correction | None:
    """Correct a value measured on a finished club for its instrument.

    Parameters
    ----------
    calibrations : Calibrations or None
        Of the shop's instruments.
    quantity : str
        What was measured on the club.
    value : float
        As measured, in its unit.
    instrument : str or None
        What it was measured with.
    day : date or None
        When.
    club : str
        Which club, for people.

    Returns
    -------
    Correction or None
        None where nothing is known of the instrument.
    """
    if not calibrations or not instrument or quantity not in _ON_CLUBS:
        return None
    found = corrected_by(
        calibrations,
        [
            ShaftReading(
                id="", shaft_id="", sample=club, quantity=_ON_CLUBS[quantity], value=value, instrument=instrument,
                taken_on=day,
            )
        ],
    )  # fmt: skip
    return found[0] if found else None


def readings_of(reader: Reader, shaft_id: str) -> list[ShaftReading]:
    """Readings of a shaft to compute with.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    shaft_id : str
        The shaft.
    """
    return corrected_readings(reader, reader.readings_of(shaft_id))


def corrected_columns(reader: Reader, columns: Sequence[str], *, where: str | None = None) -> pa.Table:
    """Readings of many shafts to compute with, as columns.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    columns : sequence of str
        Fields of ``shaft_reading`` that are wanted.
    where : str, optional
        Which readings.
    """
    calibrations = calibrations_of(reader) if reader.count("reference_reading") else None
    if not calibrations:
        return reader.arrow("shaft_reading", columns, where=where)
    every = [*columns, *(n for n in _NEEDED if n not in columns)]
    return _corrected(reader.arrow("shaft_reading", every, where=where), calibrations).select(list(columns))


def _corrected(table: pa.Table, calibrations: Calibrations) -> pa.Table:
    """The table with corrected values and standard deviations."""
    import numpy as np
    import pyarrow as pa
    import pyarrow.compute as pc

    from specdb.profiles.calibration import PUBLISHED, same_name

    coded = table.column("instrument").combine_chunks().dictionary_encode()
    names = [same_name(n or "") for n in coded.dictionary.to_pylist()]
    calibrated = {name for name, _ in calibrations.keys}
    at = [i for i, n in enumerate(names) if n in calibrated]
    mine = pc.is_in(coded.indices, value_set=pa.array(at, coded.indices.type))
    mine = pc.and_(mine, pc.not_equal(table.column("sample"), PUBLISHED))
    rows = np.asarray(pc.indices_nonzero(pc.fill_null(mine, False)).to_numpy(), dtype=np.int64)
    if not rows.size:
        return table
    value = _floats(table.column("value"))
    sd = _floats(table.column("sd"))
    some = table.take(pa.array(rows))
    (instrument, named), (quantity, kinds), (shaft, _) = (
        _coded(some.column(n)) for n in ("instrument", "quantity", "shaft_id")
    )
    named = [same_name(n) for n in named]
    day = some.column("taken_on").cast(pa.int32())
    day = np.asarray(pc.fill_null(day, np.iinfo(np.int32).max).to_numpy(), dtype=np.int64)
    for name, what in sorted(calibrations.keys):
        is_named = np.array([n == name for n in named], dtype=bool)[instrument]
        mine = np.flatnonzero(is_named & np.array([k == what for k in kinds], dtype=bool)[quantity])
        if mine.size:
            own = rows[mine]
            value[own], sd[own] = _applied(calibrations.of(name, what), day[mine], value[own], sd[own], shaft[mine])
    out = table.set_column(table.column_names.index("value"), "value", pa.array(value))
    return out.set_column(out.column_names.index("sd"), "sd", pa.array(sd, mask=np.isnan(sd)))


def _applied(
    found: Sequence[Calibration],
    days: npt.NDArray[np.int64],
    value: npt.NDArray[np.float64],
    sd: npt.NDArray[np.float64],
    shaft: npt.NDArray[np.int64],
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Readings of one instrument and quantity, corrected each by the calibration of its day.

    That is the first one before the first, and the last one where the day is unknown.
    """
    import numpy as np

    first = [np.iinfo(np.int64).min if c.first_day is None else (c.first_day - _EPOCH).days for c in found]
    which = np.maximum(np.searchsorted(np.array(first, dtype=np.int64), days, side="right") - 1, 0)
    out, out_sd = value.copy(), sd.copy()
    for i, calibration in enumerate(found):
        mine = np.flatnonzero(which == i)
        _, of, counts = np.unique(shaft[mine], return_inverse=True, return_counts=True)
        out[mine], own, common = calibration.true_of(value[mine], sd[mine])
        out_sd[mine] = np.hypot(own, np.sqrt(counts[of]) * common)
    return out, out_sd


def _coded(column: pa.ChunkedArray) -> tuple[npt.NDArray[np.int64], list[str]]:
    """Words as codes, and what the codes mean."""
    import numpy as np

    coded = column.combine_chunks()
    coded = coded if hasattr(coded, "indices") else coded.dictionary_encode()
    return np.asarray(coded.indices.to_numpy(zero_copy_only=False), dtype=np.int64), coded.dictionary.to_pylist()


def _floats(column: pa.ChunkedArray) -> npt.NDArray[np.float64]:
    import numpy as np
    import pyarrow as pa
    import pyarrow.compute as pc

    return np.array(pc.fill_null(column.cast(pa.float64()), np.nan).to_numpy(), dtype=np.float64)
