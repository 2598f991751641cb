"""The filters of shafts that can stand in, for one club or for a whole set; they are remembered."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, ClassVar

from specdb.tui.standins.asked import to_memory
from specdb.tui.standins.ranked_screen import RankedScreen
from specdb.verbs.matching.substitutes import SearchOptions


class ShaftFilters(RankedScreen):
    """Shafts that can stand in, ranked, fewer or more of them.

    Attributes
    ----------
    FILTERS : str
        What the filters are remembered under.
    PRICE : str
        What is asked for by the highest price.
    """

    FILTERS: ClassVar[str] = ""
    PRICE: ClassVar[str] = "Highest price; empty for any"

    def __init__(self) -> None:
        super().__init__()
        self._options = SearchOptions()

    def _filter(self, **changes: Any) -> None:  # noqa: ANN401 (fields of the options)
        self._options = replace(self._options, **changes)
        self.memory.put(self.FILTERS, to_memory(self._options))
        self._ask()

    def action_in_stock(self) -> None:
        """Only what is on hand, or all."""
        self._filter(in_stock=not self._options.in_stock)

    def action_same_tip(self) -> None:
        """Only the same tip, or all."""
        self._filter(same_tip=not self._options.same_tip)

    def action_no_reaming(self) -> None:
        """Only without reaming, or all."""
        self._filter(no_reaming=not self._options.no_reaming)

    def action_no_filter(self) -> None:
        """Take every filter away."""
        self._filter(in_stock=False, same_tip=False, no_reaming=False, max_price=None, max_weight_g=None)

    def action_max_price(self) -> None:
        """The highest price."""
        self._type("price", "max_price", self.PRICE)

    def action_max_weight(self) -> None:
        """The highest weight."""
        self._type("weight_g", "max_weight_g", "Highest weight of the raw shaft; empty for any")

    def _type(self, field: str, option: str, title: str) -> None:
        from specdb.tui.dialogs.quantity import TypeDialog

        now = getattr(self._options, option)
        dialog = TypeDialog("shaft", field, title, "" if now is None else f"{now:g}")

        def typed(found: tuple[float | None] | None) -> None:
            if found is not None:
                self._filter(**{option: found[0]})

        self.app.push_screen(dialog, typed)
