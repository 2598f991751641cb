"""What is asked: a shaft, a head and the parts between them; and the shelf that a preparation may draw on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from specdb.fitup.limits import FitLimits
from specdb.records.rows import (
    Adapter,
    AdapterSetting,
    Adhesive,
    Ferrule,
    Grip,
    Head,
    Shaft,
    ShaftReading,
    Sleeve,
)

StockOf: TypeAlias = Callable[[str, str], int | None] | Mapping[tuple[str, str], int | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class FitQuestion:
    """One build to be judged. What is left None is not asked about, unless the fit itself needs it.

    Attributes
    ----------
    shaft : Shaft
        The raw shaft.
    readings : tuple of ShaftReading
        Its readings; those of outside diameter win over nominal figures.
    head : Head
        The head.
    hand : str or None
        Hand of the player.
    adapter : Adapter or None
        The adapter of a head with a connection.
    settings : tuple of AdapterSetting
        The settings the adapter has.
    setting : str or None
        The setting wanted.
    sleeve, ferrule, grip, adhesive
        Records; None where not asked about.
    tip_trim_in : float
        Cut off the tip, in.
    insertion_in : float or None
        How deep the tip is to sit, in; the full bore depth where None.
    playing_length_in : float or None
        Finished length, in.
    wanted_loft_deg, wanted_lie_deg : float or None
        Of the finished club, deg.
    head_add_g : float
        Weight added at the head, which the bond must hold too, g.
    limits : FitLimits
        Thresholds.
    """

    shaft: Shaft
    readings: tuple[ShaftReading, ...] = ()
    head: Head
    hand: str | None = None
    adapter: Adapter | None = None
    settings: tuple[AdapterSetting, ...] = ()
    setting: str | None = None
    sleeve: Sleeve | None = None
    ferrule: Ferrule | None = None
    grip: Grip | None = None
    adhesive: Adhesive | None = None
    tip_trim_in: float = 0.0
    insertion_in: float | None = None
    playing_length_in: float | None = None
    wanted_loft_deg: float | None = None
    wanted_lie_deg: float | None = None
    head_add_g: float = 0.0
    limits: FitLimits = field(default_factory=FitLimits)

    @property
    def gap_limits(self) -> FitLimits:
        """The limits with the adhesive's own gap limits."""
        return self.limits.for_adhesive(self.adhesive)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """Parts that a preparation may use.

    Attributes
    ----------
    adapters, sleeves, ferrules : tuple of records
        What the catalogue has; retired parts are passed over.
    settings_by_adapter : mapping of str to tuple of AdapterSetting
        Settings by adapter id.
    in_stock : callable or mapping
        Pieces on hand by ``(kind, id)``; None where nobody knows.
    """

    adapters: tuple[Adapter, ...] = ()
    sleeves: tuple[Sleeve, ...] = ()
    ferrules: tuple[Ferrule, ...] = ()
    settings_by_adapter: Mapping[str, tuple[AdapterSetting, ...]] = field(default_factory=dict)
    in_stock: StockOf = field(default_factory=dict)

    def has(self, kind: str, item_id: str) -> bool | None:
        """Whether a part is on hand; None where nobody knows.

        Parameters
        ----------
        kind, item_id : str
            The part.
        """
        stock = self.in_stock
        count = stock(kind, item_id) if callable(stock) else stock.get((kind, item_id))
        return None if count is None else count > 0
