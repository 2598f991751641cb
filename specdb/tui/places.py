"""The places of the interface, in the order they stand in the top line; each is imported when it is first opened.

A place whose module is not there is not offered.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib import import_module
from importlib.util import find_spec
from typing import TYPE_CHECKING, cast

from specdb.errors import UsageError

if TYPE_CHECKING:
    from specdb.tui.base import PlaceScreen


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the interface.

    Attributes
    ----------
    name : str
        How the program names it.
    key : str
        The key that opens it.
    title : str
        What it is called in the top line.
    target : str
        ``module:Class``, the module within ``specdb.tui``.
    summary : str
        One sentence on what is done there.
    """

    name: str
    key: str
    title: str
    target: str
    summary: str

    @property
    def module(self) -> str:
        """Full name of its module."""
        return f"specdb.tui.{self.target.partition(':')[0]}"


PLACES: tuple[Place, ...] = (
    Place("catalogue", "f2", "Catalogue", "catalogue.place:CatalogueScreen", "Look things up, add and change them."),
    Place("clubs", "f3", "Clubs", "clubs.place:ClubScreen", "Fitted clubs: enter, change and compare them."),
    Place("standins", "f4", "Stand-ins", "standins.place:StandInsScreen", "Find what plays nearest to a shaft."),
    Place("fitup", "f5", "Fit-up", "fitup.place:FitUpScreen", "See whether a tip goes in a bore."),
    Place("bench", "f6", "Bench", "bench.place:BenchScreen", "Type in readings and see the shaft's profile."),
    Place("orders", "f7", "Orders", "orders.place:OrdersScreen", "What is ordered, how its parts stand, the plan."),
    Place("build", "f8", "Build", "building.place:BuildScreen", "Build a club step by step, and measure it."),
)


@dataclass(frozen=True, slots=True)
class View:
    """A screen that lies over a place, offered by the palette wherever one is.

    Attributes
    ----------
    place : str
        Name of the place.
    title : str
        What is done, as the palette says it.
    target : str
        ``module:Class``, the module within ``specdb.tui``.
    summary : str
        One sentence on what is done there.
    """

    place: str
    title: str
    target: str
    summary: str


VIEWS: tuple[View, ...] = (
    View("orders", "Plan all orders", "plan.view:PlanScreen", "Plan all open orders together, and keep their parts."),
    View("orders", "Reports", "reports.view:ReportsScreen", "Open orders, shortages, reorder, stand-ins, error."),
)


@lru_cache(maxsize=1)
def offered() -> tuple[Place, ...]:
    """The places whose modules are there."""
    return tuple(place for place in PLACES if find_spec(place.module) is not None)


def place_named(name: str) -> Place:
    """Look a place up.

    Parameters
    ----------
    name : str
        Its name.

    Raises
    ------
    UsageError
        If there is none.
    """
    for place in offered():
        if place.name == name:
            return place
    raise UsageError(f"there is no place '{name}'; there are: {', '.join(p.name for p in offered())}")


def screen_class(place: Place | View) -> type[PlaceScreen]:
    """Import the screen of a place, or of a view over one.

    Parameters
    ----------
    place : Place or View
        The place or view.
    """
    module, _, name = place.target.partition(":")
    return cast("type[PlaceScreen]", getattr(import_module(f"specdb.tui.{module}"), name))
