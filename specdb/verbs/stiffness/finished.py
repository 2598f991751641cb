"""Finished clubs as the catalogue has them, as evidence of the shafts in them.

A club counts once, with its newest frequency; a head weight and a length measured on it count before what was planned.
Whatever judges a club asks for what is known without it (``but``), so that no club is held against itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.catalogue import Reader
from specdb.mechanics import constants, defaults
from specdb.orders.as_built import BuiltUnit, newest, unit_of
from specdb.profiles.finished import FinishedClub
from specdb.records.rows import AsBuilt
from specdb.verbs.stiffness.corrections import Correction, calibrations_of, corrected_on_club

if TYPE_CHECKING:
    from specdb.profiles.calibration import Calibrations

_BEARING = ("frequency", "head_weight", "length")
_MANY = 400  # shafts or clubs from which on all rows are read


def finished_clubs(
    reader: Reader, shaft_ids: Sequence[str] | None = None, *, but: BuiltUnit | None = None
) -> dict[str, list[FinishedClub]]:
    """Finished clubs with a frequency, by shaft, in the order of their names.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    shaft_ids : sequence of str, optional
        Only with these shafts.
    but : BuiltUnit, optional
        A club that is not to count.
    """
    counted = [m for m in _measured(reader, shaft_ids) if but is None or not but.has(m.row)]
    calibrations = _calibrations(reader, counted)
    found: dict[str, list[FinishedClub]] = {}
    for measured in counted:
        found.setdefault(measured.row.shaft_id or "", []).append(_club(measured, calibrations))
    return {shaft: sorted(clubs, key=lambda c: (c.name, c.reading_id)) for shaft, clubs in sorted(found.items())}


def club_corrections(reader: Reader, shaft_id: str) -> tuple[Correction, ...]:
    """Frequencies of finished clubs with a shaft that are corrected for their meter, both values side by side.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    shaft_id : str
        The shaft.
    """
    counted = _measured(reader, [shaft_id])
    calibrations = _calibrations(reader, counted)
    return tuple(c for m in counted if (c := _true(calibrations, m.row)) is not None)


@dataclass(frozen=True, slots=True)
class _Measured:
    """The newest of what was measured on a club, where there is a frequency."""

    row: AsBuilt
    head: AsBuilt | None
    length: AsBuilt | None

    @property
    def instruments(self) -> bool:
        """Whether any was named."""
        return bool(self.row.instrument or (self.head and self.head.instrument))


def _measured(reader: Reader, shaft_ids: Sequence[str] | None) -> list[_Measured]:
    if not reader.count("as_built"):
        return []
    latest = newest_of_clubs(reader, _rows(reader, shaft_ids))
    wanted = None if shaft_ids is None else set(shaft_ids)
    found = []
    for (unit, quantity), row in latest.items():
        named = row.shaft_id is not None and (wanted is None or row.shaft_id in wanted)
        if quantity == "frequency" and row.value is not None and named:
            found.append(_Measured(row, latest.get((unit, "head_weight")), latest.get((unit, "length"))))
    return found


def _calibrations(reader: Reader, measured: Sequence[_Measured]) -> Calibrations | None:
    return calibrations_of(reader) if any(m.instruments for m in measured) else None


def _true(calibrations: Calibrations | None, row: AsBuilt) -> Correction | None:
    value, name = float(row.value or 0.0), f"finished club {club_name(row)}"
    return corrected_on_club(calibrations, row.quantity, value, row.instrument, row.taken_on, club=name)


def newest_of_clubs(reader: Reader, rows: Iterable[AsBuilt]) -> dict[tuple[BuiltUnit, str], AsBuilt]:
    """The newest value of each finished club and quantity: a club that was measured twice counts once.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    rows : iterable of AsBuilt
        What was measured.
    """
    return newest(rows, lambda row: (unit_of(row), row.quantity), lambda row: kept_in(reader, row))


def kept_in(reader: Reader, row: AsBuilt) -> int:
    """Number of the latest change of a value measured on a club.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    row : AsBuilt
        The value.
    """
    changes = reader.history("as_built", row.id, limit=1)
    return changes[0].change_no if changes else 0


def _rows(reader: Reader, shaft_ids: Sequence[str] | None) -> list[AsBuilt]:
    """What was measured on the clubs that ever had one of the shafts in them."""
    kinds = f"quantity in ({_listed(_BEARING)})"
    if shaft_ids is None or len(shaft_ids) > _MANY:
        return reader.rows("as_built", where=kinds)
    if not shaft_ids:
        return []
    some = reader.arrow("as_built", ["club_id"], where=f"quantity = 'frequency' and shaft_id in ({_listed(shaft_ids)})")
    clubs = sorted(set(some["club_id"].to_pylist()))
    return reader.rows("as_built", where=f"{kinds} and club_id in ({_listed(clubs)})") if clubs else []


def _listed(words: Iterable[str]) -> str:
    return ", ".join(f"'{word}'" for word in words)


def _club(measured: _Measured, calibrations: Calibrations | None) -> FinishedClub:
    row, weighed, length = measured.row, measured.head, measured.length
    true = _true(calibrations, row)
    head, by_scale = row.head_g, False
    if weighed is not None and weighed.value is not None:
        on_scale = _true(calibrations, weighed)
        head, by_scale = weighed.value if on_scale is None else on_scale.value, True
    cut = row.cut_length_in
    if cut is not None and length is not None and length.value is not None and length.expected is not None:
        cut += length.value - length.expected
    return FinishedClub(
        name=club_name(row),
        reading_id=row.id,
        piece=row.shaft_sample,
        cpm=float(row.value or 0.0) if true is None else true.value,
        own_sd_cpm=defaults.FREQUENCY_CPM if true is None else true.own_sd,
        common_sd_cpm=0.0 if true is None else true.common_sd,
        calibration="" if true is None else f"{true.instrument} {true.calibrated_on}",
        clamp_in=constants.CLAMP_IN if row.clamp_in is None else row.clamp_in,
        tip_trim_in=row.tip_trim_in,
        insertion_in=row.insertion_in,
        cut_length_in=cut,
        head_g=head,
        head_weighed=by_scale,
        head_cg_in=row.head_cg_in,
        mouth_g=row.mouth_g or 0.0,
    )


def club_name(row: AsBuilt) -> str:
    """A finished club for people.

    Parameters
    ----------
    row : AsBuilt
        A value measured on it.
    """
    if row.order_id is None:
        return row.club_id
    which = "" if (row.line, row.unit) in ((1, 1), (None, None)) else f", line {row.line}, no. {row.unit}"
    return f"{row.club_id} of {row.order_id}{which}"
