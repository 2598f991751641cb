"""Numbers and amounts as a person reads them."""

from __future__ import annotations

import math


def number(value: float | None, decimals: int = 1) -> str:
    """A number with so many decimals; ``-`` where it is unknown.

    Parameters
    ----------
    value : float or None
        The number.
    decimals : int
        Decimals.
    """
    if value is None or not math.isfinite(value):
        return "-"
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def signed(value: float | None, decimals: int = 1) -> str:
    """A number with its sign; zero has none.

    Parameters
    ----------
    value : float or None
        The number.
    decimals : int
        Decimals.
    """
    text = number(value, decimals)
    return text if text.startswith("-") or float(text) == 0.0 else f"+{text}"


def short(value: float | None) -> str:
    """A number with no more decimals than it has, four significant digits at most.

    Parameters
    ----------
    value : float or None
        The number.
    """
    return "-" if value is None or not math.isfinite(value) else f"{value:.4g}"


def chance(probability: float) -> str:
    """A probability in percent, never said to be more certain than it is.

    Parameters
    ----------
    probability : float
        From 0 to 1; NaN where unknown.
    """
    if math.isnan(probability):
        return "-"
    percent = 100.0 * probability
    if percent < 1.0:
        return "<1"
    return ">99" if percent > 99.0 else f"{percent:.0f}"


def plural(count: int, one: str, many: str | None = None) -> str:
    """A count with its noun.

    Parameters
    ----------
    count : int
        How many.
    one : str
        The noun for one.
    many : str or None
        The noun for several; with an s where None.
    """
    return f"{count:,} {one if count == 1 else many or one + 's'}"
