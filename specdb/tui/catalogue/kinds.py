"""Which kinds and columns a list shows at first."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from specdb.schema import Table, load_schema
from specdb.tui.widgets.columns import ColumnSpec, spec_of
from specdb.verbs.catalogue.change_words import counted, plural

__all__ = ["ON_HAND", "STOCK", "as_listed", "counted", "first_columns", "first_sort", "plural", "short_specs"]

ON_HAND, STOCK = "on_hand", "stock"

# what a person looks at first; the rest is one key away
_FIRST: dict[str, tuple[str, ...]] = {
    "shaft": ("model", "flex", "club_type", "weight_g", "tip_dia_in", "torque_deg", ON_HAND, "maker",
              "tip_form", "raw_length_in", "price"),
    "head": ("model", "number", "hand", "loft_deg", "lie_deg", "weight_g", "bore_dia_in", "maker", "club_type",
             "connection"),
    "adapter": ("model", "maker", "connection", "hand", "bore_dia_in", "weight_g"),
    "grip": ("model", "maker", "weight_g", "core_dia_in", "length_in"),
    "sleeve": ("id", "inner_dia_in", "outer_dia_in", "length_in", "weight_g"),
    "ferrule": ("id", "inner_dia_in", "outer_dia_in", "length_in", "weight_g"),
    "club": ("id", "player", "label", "shaft_id", "playing_length_in", "swingweight", "frequency_cpm", "head_id",
             "fitted_on"),
    "shaft_reading": ("shaft_id", "sample", "quantity", "value", "position_in", "free_length_in", "tip_mass_g",
                      "taken_on", "taken_by"),
    "stock_move": ("on", "kind", "item_id", "quantity", "reason", "location", "by"),
    "supply": ("kind", "item_id", "backordered", "ordered", "expected_on", "supplier"),
    "choice": ("on", "club_id", "shaft_id", "tip_trim_in", "decision", "score", "by", "why"),
}  # fmt: skip

_SHORT: dict[str, tuple[str, ...]] = {
    "shaft": ("model", "flex", "club_number", "weight_g", "tip_dia_in", STOCK, "maker", "club_type", "id"),
    "head": ("model", "number", "hand", "loft_deg", "bore_dia_in", STOCK, "maker", "club_type", "id"),
    "adapter": ("model", "connection", "hand", "bore_dia_in", STOCK, "id", "maker", "weight_g"),
    "grip": ("model", "weight_g", "core_dia_in", "length_in", STOCK, "maker", "id"),
    "club": ("id", "player", "label", "shaft_id"),
}
_SHORT_MOST = 5
# headings of one word where every cell counts
_SHORT_TITLES = {"club_number": "No.", "number": "No.", "tip_dia_in": "Tip", "bore_dia_in": "Bore",
                 "core_dia_in": "Core", "inner_dia_in": "Inner", "outer_dia_in": "Outer"}  # fmt: skip


@lru_cache
def as_listed(kind: str) -> Table:
    """A kind as a list shows it: where stock is kept of it, with what is on hand as one more field.

    Parameters
    ----------
    kind : str
        The kind.
    """
    table, moves = load_schema().table(kind), load_schema().table("stock_move")
    if kind not in moves.field("kind").enum:
        return table
    on_hand = replace(
        moves.field("quantity"),
        name=ON_HAND,
        title="On hand",
        description="Pieces on hand by the stock ledger; empty where none was ever booked.",
        required=False,
        section="",
    )
    return replace(table, fields=(*table.fields, on_hand))


def first_columns(table: Table) -> tuple[str, ...]:
    """Fields that a list of a kind shows until other ones are chosen.

    Parameters
    ----------
    table : Table
        The kind.
    """
    known = _FIRST.get(table.name)
    if known is None:
        hidden = set(table.primary_key) if table.key_style == "digest" else set()
        return tuple(name for name in table.field_names if name not in hidden)
    return tuple(name for name in known if name in table.field_names)


def short_specs(table: Table, *, stock: bool) -> list[ColumnSpec]:
    """Fewer columns, for choosing one of a kind: what tells it from others comes first.

    Parameters
    ----------
    table : Table
        The kind.
    stock : bool
        Whether the rows have the column :data:`STOCK`.
    """
    names = _SHORT.get(table.name) or (*first_columns(table)[:_SHORT_MOST], STOCK)
    found = []
    for name in names:
        if name == STOCK:
            found += [ColumnSpec(STOCK, "Stock")] if stock else []
        else:
            spec = spec_of(table.field(name))
            found.append(replace(spec, title=_SHORT_TITLES.get(name, spec.title)))
    return found


_FIRST_SORT = {
    "stock_move": ("on", True),
    "choice": ("on", True),
    "shaft_reading": ("shaft_id", False),
    "supply": ("item_id", False),
    "reference_reading": ("instrument", False),
}


def first_sort(table: Table) -> tuple[str, bool]:
    """What a list of a kind is sorted by until something else is chosen: a field, and whether it falls.

    Parameters
    ----------
    table : Table
        The kind.
    """
    return _FIRST_SORT.get(table.name, (table.primary_key[0], False))
