"""Search as one types: rows in which every word typed occurs in maker, model, id or what stands for them.

A row whose key is what was typed comes first, then those whose key begins so: Enter takes the first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    import pyarrow as pa

    from specdb.schema import Table

_Found = TypeVar("_Found")

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


def how_near(words: str, key: str) -> int:
    """How near a key is to what was typed: 0 the same, 1 begins so, 2 whatever else.

    Parameters
    ----------
    words : str
        As typed.
    key : str
        The key.
    """
    typed, own = words.strip().lower(), key.lower()
    return 0 if typed == own else 1 if typed and own.startswith(typed) else 2


def nearest_first(words: str, found: Iterable[_Found], key: Callable[[_Found], str]) -> list[_Found]:
    """What was found, that with the very key that was typed first; otherwise in the order given.

    Parameters
    ----------
    words : str
        As typed.
    found : iterable
        What was found.
    key : callable
        Key of one.
    """
    return sorted(found, key=lambda one: how_near(words, key(one)))


def nearest_rows_first(words: str, keys: pa.ChunkedArray, order: pa.Array) -> pa.Array:
    """The same of N rows: their places, put in order.

    Parameters
    ----------
    words : str
        As typed.
    keys : pyarrow array of str
        Keys of all rows.
    order : pyarrow.Array of int
        The rows found, in their order.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    typed = words.strip().lower()
    if not typed:
        return order
    own = pc.utf8_lower(pc.take(keys.cast(pa.string()), order))
    same, begun = pc.equal(own, typed), pc.starts_with(own, typed)
    parts = (order.filter(same), order.filter(pc.and_not(begun, same)), order.filter(pc.invert(begun)))
    return pa.concat_arrays([p.combine_chunks() if isinstance(p, pa.ChunkedArray) else p for p in parts])
