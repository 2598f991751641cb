"""Keys for rows that come without one.

Items get a readable key of words (``northfold-trine-s-62``); readings, moves and the like, whose keys nobody
types, get a digest of the fields that tell them apart. The same row always gets the same key, so that a file
imported twice adds nothing.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from specdb.catalogue.tables import as_columns
from specdb.errors import UsageError, indefinite
from specdb.schema import Field, Table, load_schema

if TYPE_CHECKING:
    import pyarrow as pa

_LONGEST = 80
_DIGEST_BYTES = 10
_DECIMALS = {"in": 3, "g": 1}  # of numbers in a readable key
_BETWEEN = "\x1f"
_SPELLED = str.maketrans({"+": " plus ", "&": " and ", "ß": "ss", "ø": "o", "Ø": "o", "æ": "ae", "Æ": "ae", "ł": "l"})


def _digest(text: str, size: int = _DIGEST_BYTES) -> str:
    return hashlib.blake2b(text.encode("utf-8"), digest_size=size).hexdigest()


def slug(text: str) -> str:
    """Lower-case words joined by ``-``; letters that have no plain form are kept apart by a digest.

    Parameters
    ----------
    text : str
        Any text.
    """
    text = unicodedata.normalize("NFC", text.strip())
    flat = unicodedata.normalize("NFKD", text.translate(_SPELLED))
    plain = "".join(c for c in flat if not unicodedata.combining(c)).lower()
    words = re.sub(r"[^a-z0-9.]+", "-", plain).strip("-.")
    lost = any(c.isalnum() and not c.isascii() for c in plain)
    if not words or lost:
        words = f"{words}-{_digest(text, 3)}".strip("-")
    return words


def _word(field: Field, value: object) -> str:
    if not isinstance(value, (int, float)) or not field.is_number:
        return slug(str(value))
    # what was typed in ounces or millimetres would end in digits that nobody types again
    return f"{round(value, _DECIMALS.get(field.unit or '', 2)):g}"


def _words_key(table: Table, values: Mapping[str, Any]) -> str | None:
    given = [table.field(name) for name in table.derive_key_from if values.get(name) not in (None, "")]
    by_words = any(not table.field(name).is_number for name in table.derive_key_from)
    if not given or (by_words and all(field.is_number for field in given)):
        return None  # a weight alone names no shaft
    parts = [_word(field, values[field.name]) for field in given]
    key = "-".join(p.replace("-", "m", 1) if p.startswith("-") else p for p in parts)
    if len(key) > _LONGEST:
        key = key[: _LONGEST - 9].rstrip("-.") + "-" + _digest(key, 4)
    return key


def derive_key(kind: str, values: Mapping[str, Any]) -> str | None:
    """Key of one row, worked out from its other fields; None if they say too little.

    Parameters
    ----------
    kind : str
        Kind of the row.
    values : mapping
        Values in their stored types, by field name.

    Raises
    ------
    UsageError
        If rows of this kind must be given a key.
    """
    import pyarrow as pa

    table = _derivable(kind)
    if table.key_style != "digest":
        return _words_key(table, values)
    row = pa.table({n: [values.get(n)] for n in table.derive_key_from})
    return str(derive_keys(kind, row)[0].as_py())


def _derivable(kind: str) -> Table:
    table = load_schema().table(kind)
    if len(table.primary_key) != 1:
        raise UsageError(f"{indefinite(kind)} is named by its {' and '.join(table.primary_key)}; both must be given")
    if not table.derive_key_from:
        raise UsageError(f"{indefinite(kind)} must be given an {table.primary_key[0]}")
    return table


def derive_keys(kind: str, rows: pa.Table) -> pa.Array:
    """Keys of all rows of a table, worked out from their other fields; null where they say too little.

    Parameters
    ----------
    kind : str
        Kind of the rows.
    rows : pyarrow.Table
        Columns named as the fields; missing columns count as unknown.

    Returns
    -------
    keys : pyarrow.Array of string, shape (N,)
        Identical rows get identical keys; see :func:`number_repeats`.

    Raises
    ------
    UsageError
        If rows of this kind must be given a key.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    table = _derivable(kind)
    rows = as_columns(table, rows.select([n for n in table.derive_key_from if n in rows.column_names]))
    if table.key_style != "digest":
        return pa.array([_words_key(table, r) for r in rows.to_pylist()], pa.string())
    if not rows.num_columns:
        return pa.nulls(rows.num_rows, pa.string())
    texts = [
        _canonical(table.field(n), rows.column(n)) if n in rows.column_names else pa.scalar("")
        for n in table.derive_key_from
    ]
    joined = pc.binary_join_element_wise(*texts, _BETWEEN, null_handling="replace", null_replacement="")
    blake2b = hashlib.blake2b
    return pa.array(
        [blake2b(t.encode("utf-8"), digest_size=_DIGEST_BYTES).hexdigest() for t in joined.to_pylist()],
        pa.string(),
    )


def _canonical(field: Field, column: pa.ChunkedArray) -> pa.ChunkedArray:
    """Text of every value, the same on every machine and in every version of the libraries."""
    import pyarrow as pa
    import pyarrow.compute as pc

    if field.type == "string":
        return column
    if field.type == "number":
        # whole millionths, as the text of a float is a matter of taste
        column = pc.round(pc.multiply(column, 1e6)).cast(pa.int64())
    elif field.type == "date":
        column = column.cast(pa.int32())
    elif field.type == "boolean":
        column = column.cast(pa.int8())
    return column.cast(pa.string())


def number_repeats(keys: pa.Array) -> pa.Array:
    """Tell identical keys of one file apart: the second becomes ``KEY-2``, the third ``KEY-3``.

    Two equal moves of stock on one day are two moves. As the number counts within the file, the same file
    imported twice gives the same keys.

    Parameters
    ----------
    keys : pyarrow.Array of string, shape (N,)
        Keys as derived; null stays null.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    counts = pc.value_counts(keys)
    repeated = {
        c["values"].as_py() for c in counts.filter(pc.greater(counts.field("counts"), 1)) if c["values"].is_valid
    }
    if not repeated:
        return keys
    seen: dict[str, int] = dict.fromkeys(repeated, 0)
    numbered = []
    for key in keys.to_pylist():
        if key in seen:
            seen[key] += 1
            numbered.append(key if seen[key] == 1 else f"{key}-{seen[key]}")
        else:
            numbered.append(key)
    return pa.array(numbered, pa.string())
