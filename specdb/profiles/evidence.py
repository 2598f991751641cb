"""From catalogue records to readings with standard deviations; what is impossible is refused with the reason."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.errors import MissingDataError
from specdb.mechanics import defaults
from specdb.mechanics.constants import DEG, FT_LB, GRAM, IN, TORQUE_GAUGE_LESS_IN
from specdb.profiles.contradictions import Refused, without_contradictions
from specdb.profiles.finished import FinishedClub, club_readings
from specdb.profiles.readings import HZ, Kind, Reading
from specdb.profiles.state import BALANCE, BUTT_DIA, CLUB_TYPES, LENGTH, MASS, SIZE, TIP_DIA, group_of
from specdb.records.rows import Shaft, ShaftReading

FloatArray = npt.NDArray[np.float64]

_TWIST = DEG / FT_LB
_ROUNDING_M = 1e-6
_MIN_EI, _MAX_EI = 1.0, 500.0  # N·m²; no golf shaft is softer or stiffer all along
_MIN_SPAN_IN = 2.0
_OWN_MASS_KG = 0.015  # what a shaft's own mass counts for at its tip, roughly


@dataclass(frozen=True, slots=True)
class Case:
    """What is known of one shaft.

    Attributes
    ----------
    shaft_id : str
        Its key.
    raw_m : float
        Raw length, m.
    group : int
        Row of ``state.GROUPS``.
    readings : tuple of Reading
        Usable readings, published figures among them.
    refused : tuple of Refused
        Impossible ones.
    gauge_m : tuple of float
        Gauge span of the torque rating, m from the tip.
    assumed : tuple of str
        What was assumed, in plain sentences.
    maker : str
        Its maker, empty where unknown.
    family : str
        Maker, model and club type in one key; empty where the maker or the model is unknown.
    flex, kick_label : str or None
        The maker's words.
    """

    shaft_id: str
    raw_m: float
    group: int
    readings: tuple[Reading, ...]
    refused: tuple[Refused, ...]
    gauge_m: tuple[float, float]
    assumed: tuple[str, ...]
    maker: str
    family: str
    flex: str | None
    kick_label: str | None

    @property
    def pieces(self) -> tuple[str, ...]:
        """Physical pieces that were measured, in order of name."""
        return tuple(sorted({r.piece for r in self.readings if r.piece is not None}))


def _functional(at: int) -> FloatArray:
    row = np.zeros(SIZE)
    row[at] = 1.0
    row.flags.writeable = False
    return row


_UNIT = {at: _functional(at) for at in (MASS, BALANCE, LENGTH, TIP_DIA, BUTT_DIA)}


def _log(name: str, at: int, value: float, sd: float, piece: str | None, unit: str, per_unit: float) -> Reading:
    """A positive quantity whose logarithm is an entry of the state; ``value`` and ``sd`` in ``unit``."""
    return Reading(
        name,
        Kind.LINEAR,
        math.log(value * per_unit),
        sd / value,
        piece,
        functional=_UNIT[at],
        unit=unit,
        per_unit=per_unit,
    )


def _balance(name: str, value_in: float, sd_in: float, piece: str | None, raw_m: float) -> Reading:
    return Reading(
        name,
        Kind.LINEAR,
        value_in * IN / raw_m - 0.5,
        sd_in * IN / raw_m,
        piece,
        functional=_UNIT[BALANCE],
        unit="in",
        per_unit=IN / raw_m,
    )


def make_case(shaft: Shaft, readings: Iterable[ShaftReading] = (), clubs: Sequence[FinishedClub] = ()) -> Case:
    """Gather what is known of one shaft.

    Parameters
    ----------
    shaft : Shaft
        Its record.
    readings : iterable of ShaftReading
        Its readings.
    clubs : sequence of FinishedClub
        Finished clubs that it is in.

    Raises
    ------
    MissingDataError
        If the raw length is unknown: no place along the shaft means anything without it.
    """
    if shaft.raw_length_in is None:
        raise MissingDataError(f"the profile of {shaft.id} needs its raw length", ["raw_length_in"])
    raw = shaft.raw_length_in * IN
    group, said = group_of(shaft.club_type, shaft.material, None if shaft.weight_g is None else shaft.weight_g * GRAM)
    assumed = [said] if said else []
    gauge_in = shaft.torque_gauge_in
    if gauge_in is None or gauge_in > shaft.raw_length_in:
        if shaft.torque_deg is not None:
            assumed.append("torque gauge length unknown: raw length less 2 in taken")
        gauge_in = shaft.raw_length_in - TORQUE_GAUGE_LESS_IN
    gauge = (0.5 * (raw - gauge_in * IN), 0.5 * (raw + gauge_in * IN))
    usable = _published(shaft, raw, gauge, assumed)
    refused: list[Refused] = []
    bench = _Bench(raw, gauge, group)
    wood = CLUB_TYPES[group // 2] in ("wood", "hybrid")
    for made in (*(_measured(row, bench) for row in readings), *club_readings(clubs, raw, wood=wood)):
        if isinstance(made, Refused):
            refused.append(made)
        elif made is not None:
            usable.append(made)
    usable, contradicted = without_contradictions(usable)
    family = "" if not (shaft.maker and shaft.model) else f"{shaft.maker}\x1f{shaft.model}\x1f{shaft.club_type}"
    return Case(
        shaft_id=shaft.id,
        raw_m=raw,
        group=group,
        readings=tuple(usable),
        refused=(*refused, *contradicted),
        gauge_m=gauge,
        assumed=tuple(assumed),
        maker=shaft.maker or "",
        family=family,
        flex=shaft.flex,
        kick_label=shaft.kick_label,
    )


def reading_of(row: ShaftReading, case: Case) -> Reading | Refused | None:
    """One bench row of a shaft as a reading.

    Parameters
    ----------
    row : ShaftReading
        The row.
    case : Case
        The shaft.

    Returns
    -------
    Reading, Refused or None
        None for a quantity that says nothing of stiffness or mass.
    """
    return _measured(row, _Bench(case.raw_m, case.gauge_m, case.group))


def _published(shaft: Shaft, raw: float, gauge: tuple[float, float], assumed: list[str]) -> list[Reading]:
    found = [_log("raw length", LENGTH, raw / IN, raw / IN * defaults.LENGTH_REL, None, "in", IN)]
    if shaft.weight_g is not None:
        found.append(_log("published weight", MASS, shaft.weight_g, defaults.WEIGHT_PUBLISHED_G, None, "g", GRAM))
    for name, at, value in (
        ("tip diameter", TIP_DIA, shaft.tip_dia_in),
        ("butt diameter", BUTT_DIA, shaft.butt_dia_in),
    ):
        if value is not None:
            found.append(_log(name, at, value, value * defaults.DIAMETER_REL, None, "in", IN))
    if shaft.balance_from_tip_in is not None:
        found.append(
            _balance("published balance point", shaft.balance_from_tip_in, defaults.BALANCE_PUBLISHED_IN, None, raw)
        )
    if shaft.torque_deg is not None:
        value, sd = shaft.torque_deg * _TWIST, defaults.TORQUE_PUBLISHED_DEG * _TWIST
        found.append(Reading("published torque", Kind.TWIST, value, sd, None, *gauge, unit="deg", per_unit=_TWIST))
    found.extend(_two_figures(shaft, raw, assumed))
    return found


def _two_figures(shaft: Shaft, raw: float, assumed: list[str]) -> list[Reading]:
    end = raw / IN
    rows = (
        ("tip", shaft.tip_ei_n_m2, shaft.tip_ei_at_in, defaults.TWO_FIGURE_TIP_AT_IN),
        ("butt", shaft.butt_ei_n_m2, shaft.butt_ei_at_in, end - defaults.TWO_FIGURE_BUTT_FROM_END_IN),
    )
    found = []
    for name, value, said, usual in rows:
        if value is None:
            continue
        place = usual if said is None else said
        if said is None:
            assumed.append(f"place of the {name} stiffness figure unknown: {place:g} in from the tip taken")
        if 0.0 <= place <= end:
            sd = defaults.TWO_FIGURE_COMMON_REL * value
            found.append(
                Reading(f"{name} stiffness figure", Kind.POINT, value, sd, None, place * IN, place * IN, unit="N·m²")
            )
    return found


# --- bench readings ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Bench:
    """The shaft on the bench: raw length (m), gauge span (m), group."""

    raw: float
    gauge: tuple[float, float]
    group: int

    def detail(self, place_m: float) -> float:
        """Detail of EI at a place that nodes cannot show, relative."""
        return float(detail_of(self.group, place_m / self.raw))


# what of that detail is left in a reading that averages over a span, over the whole free length
_STEPPED = (0.12, 0.20, 0.72, 0.82)  # step-downs lie within, of the raw length
_DETAIL_IN_BEND, _DETAIL_IN_FREQUENCY, _DETAIL_IN_DEFLECTION = 0.35, 0.05, 0.10


def detail_of(group: int, t: npt.ArrayLike) -> FloatArray:
    """Detail of EI between the nodes, one relative standard deviation.

    Ply drop-offs lie anywhere on graphite; the step-downs of steel lie between its even tip and butt sections.

    Parameters
    ----------
    group : int
        Row of ``state.GROUPS``.
    t : array_like
        Places, as parts of the raw length from the tip.

    Returns
    -------
    ndarray
        Of the shape of ``t``.
    """
    low, high = defaults.EI_BETWEEN_NODES_REL, defaults.EI_BETWEEN_NODES_STEEL_REL
    if group % 2 == 0:
        return np.full(np.shape(t), low)
    result: FloatArray = np.interp(np.asarray(t, dtype=np.float64), _STEPPED, [low, high, high, low])
    return result


def _measured(row: ShaftReading, bench: _Bench) -> Reading | Refused | None:
    name = _name(row)
    if not (math.isfinite(row.value) and row.value > 0.0):
        return Refused(name, f"a reading of {row.value:g} is no positive number", row.id)
    try:
        maker = _MAKERS.get(row.quantity)
        return None if maker is None else maker(row, name, bench)
    except _ImpossibleError as impossible:
        return Refused(name, str(impossible), row.id)


class _ImpossibleError(ValueError):
    """No shaft can read so."""


def _name(row: ShaftReading) -> str:
    where = ""
    if row.quantity == "ei" and row.position_in is not None:
        where = f" at {row.position_in:g} in"
    elif row.free_length_in is not None:
        where = f" at {row.free_length_in:g} in free length"
    return f"{row.quantity.upper() if row.quantity == 'ei' else row.quantity}{where}, {row.sample}"


def _sd(row: ShaftReading, usual: float) -> float:
    return row.sd if row.sd is not None and row.sd > 0.0 else usual


def _of_ei(row: ShaftReading, name: str, bench: _Bench) -> Reading:
    raw = bench.raw
    if row.position_in is None:
        raise _ImpossibleError("its place along the shaft is not said")
    place = row.position_in * IN
    _on_shaft(place, raw)
    published = row.sample == "published"
    sd = _sd(row, row.value * (defaults.EI_PUBLISHED_REL if published else defaults.EI_MEASURED_REL))
    if row.span_in is None:
        sd = math.hypot(sd, row.value * bench.detail(place))
        return Reading(name, Kind.POINT, row.value, sd, row.sample, place, place, unit="N·m²")
    span = row.span_in * IN
    if row.span_in < _MIN_SPAN_IN:
        raise _ImpossibleError(f"a span of {row.span_in:g} in bends a shaft by too little to be read")
    if span > raw + _ROUNDING_M:
        raise _ImpossibleError(f"a span of {row.span_in:g} in is longer than the shaft, which is {raw / IN:g} in")
    low, high = place - 0.5 * span, place + 0.5 * span
    if low < -_ROUNDING_M or high > raw + _ROUNDING_M:
        raise _ImpossibleError(
            f"a span of {row.span_in:g} in about {row.position_in:g} in has a support beyond the "
            f"{'tip' if low < 0 else 'butt'} of the {raw / IN:g} in shaft"
        )
    sd = math.hypot(sd, row.value * _DETAIL_IN_BEND * bench.detail(place))
    return Reading(name, Kind.BEND, row.value, sd, row.sample, max(low, 0.0), min(high, raw), unit="N·m²")


def _of_frequency(row: ShaftReading, name: str, bench: _Bench) -> Reading:
    raw = bench.raw
    free = _free_length(row, raw)
    if row.tip_mass_g is None:
        raise _ImpossibleError(
            "its tip mass is not said (0 for none): without it the frequency says nothing of stiffness"
        )
    tip = row.tip_mass_g * GRAM
    if tip < 0.0:
        raise _ImpossibleError("its tip mass is negative")
    needed = (tip + _OWN_MASS_KG) * free**3 / 3.0 * (2.0 * math.pi * row.value * HZ) ** 2
    if not _MIN_EI < needed < _MAX_EI:
        raise _ImpossibleError(
            f"{row.value:g} cpm with {row.tip_mass_g:g} g at {row.free_length_in:g} in needs a stiffness of about "
            f"{needed:.3g} N·m² all along: no golf shaft has that"
        )
    sd = math.hypot(_sd(row, defaults.FREQUENCY_CPM), row.value * _DETAIL_IN_FREQUENCY * bench.detail(0.5 * raw))
    return Reading(
        name, Kind.FREQUENCY, row.value * HZ, sd * HZ, row.sample, 0.0, min(free, raw), tip, unit="cpm", per_unit=HZ
    )


def _of_deflection(row: ShaftReading, name: str, bench: _Bench) -> Reading:
    raw = bench.raw
    free = _free_length(row, raw)
    if row.load_n is None or row.load_n <= 0.0:
        raise _ImpossibleError("its load is not said: without it the deflection says nothing of stiffness")
    needed = row.load_n * free**3 / (3.0 * row.value * 1e-3)
    if not _MIN_EI < needed < _MAX_EI:
        raise _ImpossibleError(
            f"{row.value:g} mm under {row.load_n:g} N at {row.free_length_in:g} in needs a stiffness of about "
            f"{needed:.3g} N·m² all along: no golf shaft has that"
        )
    load_at = 0.0 if row.position_in is None else row.position_in * IN
    if load_at + free > raw + _ROUNDING_M:
        raise _ImpossibleError(f"the clamp face would lie past the butt of the {raw / IN:g} in shaft")
    sd = math.hypot(_sd(row, defaults.DEFLECTION_MM), row.value * _DETAIL_IN_DEFLECTION * bench.detail(0.5 * raw))
    high = min(load_at + free, raw)
    return Reading(
        name,
        Kind.DEFLECTION,
        row.value * 1e-3,
        sd * 1e-3,
        row.sample,
        load_at,
        high,
        row.load_n,
        unit="mm",
        per_unit=1e-3,
    )


def _of_torque(row: ShaftReading, name: str, bench: _Bench) -> Reading:
    raw, gauge = bench.raw, bench.gauge
    if row.free_length_in is not None:
        free = _free_length(row, raw)
        gauge = (0.5 * (raw - free), 0.5 * (raw + free))
    sd = math.hypot(
        _sd(row, defaults.TORQUE_PUBLISHED_DEG if row.sample == "published" else defaults.TORQUE_MEASURED_DEG),
        row.value * _DETAIL_IN_DEFLECTION * bench.detail(0.5 * raw),
    )
    return Reading(name, Kind.TWIST, row.value * _TWIST, sd * _TWIST, row.sample, *gauge, unit="deg", per_unit=_TWIST)


def _of_weight(row: ShaftReading, name: str, _bench: _Bench) -> Reading:
    published = row.sample == "published"
    sd = _sd(row, defaults.WEIGHT_PUBLISHED_G if published else defaults.WEIGHT_MEASURED_G)
    return _log(name, MASS, row.value, sd, row.sample, "g", GRAM)


def _of_balance(row: ShaftReading, name: str, bench: _Bench) -> Reading:
    raw = bench.raw
    _on_shaft(row.value * IN, raw)
    published = row.sample == "published"
    sd = _sd(row, defaults.BALANCE_PUBLISHED_IN if published else defaults.BALANCE_MEASURED_IN)
    return _balance(name, row.value, sd, row.sample, raw)


_MAKERS = {
    "ei": _of_ei,
    "frequency": _of_frequency,
    "deflection": _of_deflection,
    "torque": _of_torque,
    "weight": _of_weight,
    "balance": _of_balance,
}


def _on_shaft(place: float, raw: float) -> None:
    if not -_ROUNDING_M <= place <= raw + _ROUNDING_M:
        raise _ImpossibleError(
            f"{place / IN:g} in from the tip is not on the shaft, which is {raw / IN:g} in long"
            + (": past the butt" if place > raw else "")
        )


def _free_length(row: ShaftReading, raw: float) -> float:
    if row.free_length_in is None:
        raise _ImpossibleError("its free length is not said")
    free = row.free_length_in * IN
    if not 0.0 < free <= raw + _ROUNDING_M:
        raise _ImpossibleError(
            f"a free length of {row.free_length_in:g} in is not possible on a shaft of {raw / IN:g} in"
        )
    return free
