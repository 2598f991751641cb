"""Search as one types: rows in which every word typed occurs in maker, model, id or what stands for them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.schema import Table

_WORDY = ("maker", "model", "flex", "player", "label", "shaft_id", "item_id", "club_id", "adapter_id", "set_id")


def searched_fields(table: Table) -> tuple[str, ...]:
    """The fields that are searched in.

    Parameters
    ----------
    table : Table
        The kind.
    """
    own = () if table.key_style == "digest" else table.primary_key
    return tuple(dict.fromkeys([*own, *(name for name in _WORDY if name in table.field_names)]))


def haystack(rows: pa.Table, table: Table) -> pa.ChunkedArray:
    """What is searched in, one text a row, in lower case.

    Parameters
    ----------
    rows : pyarrow.Table
        The rows.
    table : Table
        Their kind.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    names = searched_fields(table)
    parts = [pc.fill_null(rows[name].cast(pa.string()), "") for name in names]
    if not parts:
        return pa.chunked_array([pa.array([""] * rows.num_rows, pa.string())])
    return pc.utf8_lower(pc.binary_join_element_wise(*parts, " "))


def rows_with(words: str, texts: pa.ChunkedArray) -> pa.ChunkedArray | None:
    """Which rows have every word, as a mask; None where nothing was typed.

    Parameters
    ----------
    words : str
        As typed.
    texts : pyarrow array of str
        From :func:`haystack`.
    """
    import pyarrow.compute as pc

    mask = None
    for word in words.lower().split():
        found = pc.match_substring(texts, word)
        mask = found if mask is None else pc.and_(mask, found)
    return mask
