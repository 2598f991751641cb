"""Which decimal mark the numbers of a file have, found from all of them, as a single one may be meant in two ways."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from specdb.catalogue.cells import Decimal

_REST = r"(?:\s*[^\d\s.,].*)?$"  # a unit
_COMMA = rf"^\s*[+-]?\d+,\d+{_REST}"
_SURE_COMMA = rf"^\s*[+-]?(?:\d+,(?:\d{{1,2}}|\d{{4,}})|0*,\d+|\d{{1,3}}(?:\.\d{{3}})+,\d+|\d{{4,}},\d+){_REST}"
_SURE_POINT = rf"^\s*[+-]?(?:\d*\.(?:\d{{1,2}}|\d{{4,}})|0*\.\d+|\d{{1,3}}(?:,\d{{3}})+\.\d+|\d{{4,}}\.\d+){_REST}"
_THOUSANDS = re.compile(r"\s*[+-]?[1-9]\d{0,2}(?:\.\d{3})+(?![.\d])")


def decimal_mark(columns: Sequence[Any], told: Decimal) -> Decimal:
    """Find the decimal mark of columns of numbers.

    Parameters
    ----------
    columns : sequence
        Cells of the columns that hold numbers: Arrow arrays, or lists of Python values.
    told : str
        What the file as a whole told: ``.``, ``,`` (where the comma does not stand between cells) or ``auto``.

    Returns
    -------
    str
        ``,`` where commas can only be decimal marks and no point contradicts; ``auto`` where it cannot be told.
    """
    if told == ".":
        return told
    texts = [t for t in map(_texts_with_marks, columns) if t is not None]
    commas = any(_any_like(t, _COMMA if told == "," else _SURE_COMMA) for t in texts)
    return "," if commas and not any(_any_like(t, _SURE_POINT) for t in texts) else "auto"


def without_thousands(cell: object) -> object:
    """A cell of a file with decimal commas without the points between thousands, which mean something else alone.

    Parameters
    ----------
    cell : object
        Text such as ``1.250``; others are left alone.
    """
    found = _THOUSANDS.match(cell) if isinstance(cell, str) else None
    return cell if found is None else found[0].replace(".", "") + found.string[found.end() :]


def _texts_with_marks(column: Any) -> Any:  # noqa: ANN401 - list or Arrow; Arrow texts or None
    import pyarrow as pa
    import pyarrow.compute as pc

    if isinstance(column, list):
        column = pa.array([c for c in column if isinstance(c, str)], pa.string())
    if not pa.types.is_string(column.type):
        return None
    return column if pc.any(pc.match_substring_regex(column, "[.,]")).as_py() else None


def _any_like(texts: Any, pattern: str) -> bool:  # noqa: ANN401 - pyarrow has no types
    import pyarrow.compute as pc

    return bool(pc.any(pc.match_substring_regex(texts, pattern)).as_py())
