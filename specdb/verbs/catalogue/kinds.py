"""Kinds as people write them."""

from __future__ import annotations

from specdb.schema import Table, load_schema

_SHORT = {
    "reading": "shaft_reading",
    "setting": "adapter_setting",
    "move": "stock_move",
    "reference": "reference_reading",
}


def table_of(text: str) -> Table:
    """The table of a kind, however it is written: ``shaft``, ``Shafts``, ``shaft-reading``, ``reading``.

    Parameters
    ----------
    text : str
        The kind as typed.

    Raises
    ------
    UnknownKindError
        If there is no such kind.
    """
    schema = load_schema()
    word = text.strip().lower().replace("-", "_").replace(" ", "_")
    for candidate in (word, word.removesuffix("s"), word.removesuffix("ies") + "y"):
        kind = _SHORT.get(candidate, candidate)
        if kind in schema.kinds:
            return schema.table(kind)
    return schema.table(text)  # raises, and names the kinds there are
