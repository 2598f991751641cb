"""What the shop's own clubs come out at against what was predicted: by quantity, by instrument, over time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from specdb.catalogue import Catalogue, Reader
from specdb.orders.as_built import Bias, bias_of, newest, unit_of
from specdb.orders.tolerances import TOLERANCES
from specdb.records.rows import AsBuilt
from specdb.verbs.building.as_built import true_value
from specdb.verbs.stiffness.corrections import calibrations_of
from specdb.verbs.stiffness.finished import kept_in, newest_of_clubs


@dataclass(frozen=True, slots=True)
class BiasAnswer:
    """What the shop's clubs come out at against what was predicted.

    Attributes
    ----------
    all : tuple of Bias
        By quantity.
    by_instrument : tuple of Bias
        By quantity and instrument, where one is named.
    by_month : tuple of (str, Bias)
        By month and quantity.
    """

    all: tuple[Bias, ...]
    by_instrument: tuple[Bias, ...]
    by_month: tuple[tuple[str, Bias], ...] = field(default=())

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "all": [_bias_json(b) for b in self.all],
            "by_instrument": [_bias_json(b) for b in self.by_instrument],
            "by_month": [{"month": month, **_bias_json(b)} for month, b in self.by_month],
        }


def bias(catalogue: Catalogue) -> BiasAnswer:
    """How predictions compare with what was built, over all finished clubs; readings corrected for their instruments.

    A club that was measured twice counts once, with its newest values: in all, by month and by instrument each.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    """
    with catalogue.read() as reader:
        rows: list[AsBuilt] = reader.rows("as_built", order_by=("taken_on", "id"))
        corrected = corrected_values(reader, rows)
        known, read_with = once_each(reader, rows)

    def sums(some: Sequence[AsBuilt], instrument: str = "") -> list[Bias]:
        found = []
        for quantity in TOLERANCES:
            own = [r for r in some if r.quantity == quantity]
            if own:
                found.append(bias_over(quantity, instrument, own, corrected))
        return found

    instruments = sorted({r.instrument for r in read_with if r.instrument})
    months = sorted({f"{r.taken_on:%Y-%m}" for r in known if r.taken_on})
    return BiasAnswer(
        all=tuple(sums(known)),
        by_instrument=tuple(b for i in instruments for b in sums([r for r in read_with if r.instrument == i], i)),
        by_month=tuple(
            (m, b) for m in months for b in sums([r for r in known if r.taken_on and f"{r.taken_on:%Y-%m}" == m])
        ),
    )


def corrected_values(reader: Reader, rows: Sequence[AsBuilt]) -> Callable[[AsBuilt], float]:
    """What was measured, corrected for its instrument; as it was read where nothing is known of the instrument.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    rows : sequence of AsBuilt
        Everything that it will be asked for.
    """
    calibrations = calibrations_of(reader) if any(r.instrument for r in rows) else None

    def corrected(row: AsBuilt) -> float:
        value = float(row.value or 0.0)
        true = true_value(calibrations, row.quantity, value, row.instrument, row.taken_on)
        return value if true is None else true[0]

    return corrected


def bias_over(quantity: str, instrument: str, rows: Sequence[AsBuilt], corrected: Callable[[AsBuilt], float]) -> Bias:
    """What was measured less what was expected, over some clubs; for the report on errors too.

    Parameters
    ----------
    quantity, instrument : str
        What was measured, and with what.
    rows : sequence of AsBuilt
        Of that quantity, each beside what was expected.
    corrected : callable
        From :func:`corrected_values`.
    """
    off = [corrected(r) - float(r.expected or 0.0) for r in rows]
    return bias_of(quantity, instrument, off, [r.expected_sd or 0.0 for r in rows])


def once_each(reader: Reader, rows: Sequence[AsBuilt]) -> tuple[list[AsBuilt], list[AsBuilt]]:
    """Values that stand beside what was expected, so that a club that was measured twice counts once.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    rows : sequence of AsBuilt
        Everything that was measured.

    Returns
    -------
    newest : list of AsBuilt
        Of each club and quantity the newest.
    by_instrument : list of AsBuilt
        Of each club, quantity and instrument the newest, as one club read with two tells of both.
    """
    once = newest_of_clubs(reader, rows).values()
    each = newest(rows, lambda r: (unit_of(r), r.quantity, r.instrument), lambda r: kept_in(reader, r)).values()
    first, second = ([r for r in some if r.value is not None and r.expected is not None] for some in (once, each))
    return first, second


def _bias_json(found: Bias) -> dict[str, Any]:
    def plain(value: float) -> float | None:
        return value if value == value else None  # noqa: PLR0124 (NaN)

    return {
        "quantity": found.quantity,
        "unit": TOLERANCES[found.quantity].unit,
        "instrument": found.instrument or None,
        "clubs": found.count,
        "mean": found.mean,
        "mean_sd": plain(found.mean_sd),
        "spread": plain(found.spread),
        "ratio_to_stated_doubt": plain(found.ratio),
        "found": found.found,
    }
