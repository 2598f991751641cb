"""Rules across the fields of one row: what cannot be, whatever the single values are.

Each rule names the fields it needs and is silent where one of them is unknown.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Column = npt.NDArray[Any]
Mask = npt.NDArray[np.bool_]

# lengths typed as fractions and as millimetres may differ in the last digits
_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class Rule:
    """A condition on the fields of a row.

    Attributes
    ----------
    field : str
        The field that is named when the rule is broken.
    needs : tuple of str
        Fields the rule reads; it is silent where one is unknown.
    broken : callable
        From the columns (in the order of ``needs``) to the rows that break it.
    allowed : str
        What is allowed, in words.
    """

    field: str
    needs: tuple[str, ...]
    broken: Callable[..., Mask]
    allowed: str


def _more(first: Column, second: Column) -> Mask:
    return np.asarray(first > second + _SLACK, dtype=bool)


def _not_less(first: Column, second: Column) -> Mask:
    return np.asarray(first >= second - _SLACK, dtype=bool)


def _at_most(field: str, other: str) -> Rule:
    return Rule(field, (field, other), _more, f"at most {other}")


def _less(field: str, other: str) -> Rule:
    return Rule(field, (field, other), _not_less, f"less than {other}")


def _sign_is_wrong(reason: Column, quantity: Column) -> Mask:
    arrives = reason == "received"
    leaves = (reason == "used") | (reason == "damaged")
    return np.asarray((arrives & (quantity <= 0)) | (leaves & (quantity >= 0)), dtype=bool)


RULES: Mapping[str, tuple[Rule, ...]] = {
    "shaft": (
        _less("max_tip_trim_in", "raw_length_in"),
        _less("tip_ei_at_in", "butt_ei_at_in"),
        _at_most("tip_ei_at_in", "raw_length_in"),
        _at_most("butt_ei_at_in", "raw_length_in"),
        _at_most("balance_from_tip_in", "raw_length_in"),
        _at_most("tip_parallel_in", "raw_length_in"),
        _at_most("torque_gauge_in", "raw_length_in"),
        _at_most("tip_dia_in", "butt_dia_in"),
    ),
    "head": (
        _less("bore_dia_in", "hosel_outer_dia_in"),
        _less("max_ream_dia_in", "hosel_outer_dia_in"),
    ),
    "sleeve": (_less("inner_dia_in", "outer_dia_in"),),
    "ferrule": (_less("inner_dia_in", "outer_dia_in"),),
    "grip": (_at_most("balance_from_cap_in", "length_in"),),
    "adhesive": (_at_most("gap_min_in", "gap_max_in"),),
    "club": (_less("insertion_in", "playing_length_in"),),
    "stock_move": (
        Rule(
            "quantity",
            ("reason", "quantity"),
            _sign_is_wrong,
            "more than 0 when received, less than 0 when used or damaged",
        ),
    ),
}

# fields that mean nothing without another one
PAIRS: tuple[tuple[str, str], ...] = (("price", "currency"),)
