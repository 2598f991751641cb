"""How two raw shafts differ, in words: what stands out, largest first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.matching.neighbours import BALANCE, LENGTH, PLACES, RAW_FEATURES, THIRD_OF_PLACE, TORQUE, WEIGHT

FloatArray = npt.NDArray[np.float64]

_LEAST_UNITS = 0.5  # smaller differences are not worth a word
_ALIKE = 1.0  # units within which the thirds differ by the same
_STIFFNESS_UNIT = RAW_FEATURES[0].one_unit
_THIRDS = ("tip", "middle", "butt")


@dataclass(frozen=True, slots=True)
class RawDifference:
    """One figure of two raw shafts side by side.

    Attributes
    ----------
    key, title, unit : str
        The figure.
    reference, other : float or None
        What it is of the shaft asked for and of the other; None where unknown, and for stiffness.
    difference, sd : float or None
        Other less reference, with its standard deviation; percent for stiffness.
    units_off : float or None
        The same in units.
    """

    key: str
    title: str
    unit: str
    reference: float | None
    other: float | None
    difference: float | None
    sd: float | None
    units_off: float | None


def differences(
    reference: FloatArray, reference_sd: FloatArray, other: FloatArray, other_sd: FloatArray
) -> tuple[RawDifference, ...]:
    """Differences of two raw shafts: stiffness by thirds, then the other figures.

    Parameters
    ----------
    reference, reference_sd, other, other_sd : ndarray, shape (F,)
        Features and standard deviations; NaN where unknown.
    """
    apart = other - reference
    spread = np.hypot(reference_sd, other_sd)
    out = []
    for third, name in enumerate(_THIRDS):
        at = np.flatnonzero(np.equal(THIRD_OF_PLACE, third))
        mean = float(apart[at].mean())
        percent = 100.0 * float(np.expm1(mean))
        # errors at the places of a third hang together, so that their mean is no surer than each
        doubt = 100.0 * float(np.exp(mean) * np.sqrt(np.square(spread[at]).mean()))
        key, title = f"{'mid' if name == 'middle' else name}_ei_pct", f"{name} stiffness"
        out.append(
            RawDifference(
                key, title, "%", None, None, _or_none(percent), _or_none(doubt), _or_none(mean / _STIFFNESS_UNIT)
            )
        )
    for f in range(PLACES, len(RAW_FEATURES)):
        feature = RAW_FEATURES[f]
        known = bool(np.isfinite(apart[f]))
        out.append(
            RawDifference(
                feature.key,
                feature.title,
                feature.unit,
                _or_none(float(reference[f])),
                _or_none(float(other[f])),
                float(apart[f]) if known else None,
                float(spread[f]) if known else None,
                float(apart[f]) / feature.one_unit if known else None,
            )
        )
    return tuple(out)


def _or_none(value: float) -> float | None:
    return value if np.isfinite(value) else None


def summary(found: tuple[RawDifference, ...], most: int = 3) -> str:
    """The two or three differences that stand out.

    Parameters
    ----------
    found : tuple of RawDifference
        All differences, stiffness by thirds first.
    most : int
        How many are named at most.
    """
    said = _stiffness_words(found[: len(_THIRDS)])
    for d, f in zip(found[len(_THIRDS) :], range(PLACES, len(RAW_FEATURES)), strict=True):
        if d.difference is not None and d.units_off is not None:
            said.append((abs(d.units_off), _phrase(f, d.difference)))
    leading = sorted((s for s in said if s[0] >= _LEAST_UNITS), key=lambda s: -s[0])[:most]
    if not leading:
        return "no difference of half a unit in anything"
    return ", ".join(words for _, words in leading)


def _stiffness_words(thirds: tuple[RawDifference, ...]) -> list[tuple[float, str]]:
    units = [d.units_off for d in thirds if d.units_off is not None]
    if len(units) < len(thirds):
        return []
    if max(units) - min(units) <= _ALIKE and min(abs(u) for u in units) >= _LEAST_UNITS and min(units) * max(units) > 0:
        mean = sum(units) / len(units)
        return [(abs(mean), f"{_percent(mean)} all along")]
    return [(abs(u), f"{name} {_percent(u)}") for u, name in zip(units, _THIRDS, strict=True)]


def _percent(units: float) -> str:
    size = 100.0 * abs(float(np.expm1(units * _STIFFNESS_UNIT)))
    return f"{size:.0f} % {'stiffer' if units > 0 else 'softer'}"


def _phrase(feature: int, difference: float) -> str:
    size, more = abs(difference), difference > 0
    if feature == WEIGHT:
        return f"{size:.0f} g {'heavier' if more else 'lighter'}"
    if feature == TORQUE:
        return f"{size:.1f} deg {'more' if more else 'less'} torque"
    if feature == BALANCE:
        return f"balance point {size:.1f} % nearer the {'butt' if more else 'tip'}"
    if feature != LENGTH:
        raise ValueError(f"feature {feature} has no words")
    return f"raw length {size:g} in {'more' if more else 'less'}"
