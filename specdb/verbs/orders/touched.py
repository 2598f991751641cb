"""Which open orders a change of a club, a set or a part touches, in plain sentences for whoever makes it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from specdb.catalogue import Catalogue, Reader
from specdb.orders.availability import views
from specdb.orders.needs import NEEDING_PARTS, PIECES
from specdb.units.writing import listed
from specdb.verbs.orders.orders import read_book

_MOST = 6


def orders_of_set(reader: Reader, set_id: str) -> tuple[str, ...]:
    """Orders that need parts and ask for a set.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    set_id : str
        The set.
    """
    lines = reader.of_orders("order_line", NEEDING_PARTS)
    return tuple(sorted({line.order_id for line in lines if line.set_id == set_id}))


def joining(reader: Reader, club_id: str | None, set_id: str | None) -> str:
    """What it means for open orders that a club joins a set; empty where it means nothing, or it belongs to it already.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    club_id : str or None
        The club; None for one that has no key yet.
    set_id : str or None
        The set it is to belong to.
    """
    if not set_id:
        return ""
    club = None if club_id is None else reader.find("club", club_id)
    orders = () if club is not None and club.set_id == set_id else orders_of_set(reader, set_id)
    return _asks(orders, set_id, f"with it for {club_id or 'this club'}, too") if orders else ""


def joining_set(catalogue: Catalogue, club_id: str | None, set_id: str | None) -> str:
    """As :func:`joining`, where nothing is open yet.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    club_id, set_id : str or None
        As there.
    """
    with catalogue.read() as reader:
        return joining(reader, club_id, set_id)


def sets_touched(reader: Reader, change_no: int | None) -> tuple[str, ...]:
    """What a change did to open orders, as clubs joined or left the sets they ask for.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    change_no : int or None
        The change; None where nothing was changed.
    """
    found: list[str] = []
    if change_no is None:
        return ()
    for row in reader.history("club", change_no=change_no):
        old, new = ((image or {}).get("set_id") for image in (row.before, row.after))
        if old == new:
            continue
        for set_id, words in ((new, f"with it for {row.key}, too"), (old, f"no longer with it for {row.key}")):
            orders = orders_of_set(reader, str(set_id)) if set_id else ()
            if orders:
                found.append(_asks(orders, str(set_id), words))
    return tuple(found)


def _asks(orders: Iterable[str], set_id: str, words: str) -> str:
    names = list(orders)
    verb = f"order {names[0]} asks" if len(names) == 1 else f"orders {_named(names)} ask"
    return f"{verb} for set {set_id}, and {words}"


def _named(names: Sequence[str]) -> str:
    more = len(names) - _MOST
    return listed([*names[:_MOST], f"{more} more"] if more > 0 else names)


def orders_wanting(reader: Reader, kind: str, key: str) -> tuple[str, ...]:
    """Open orders that ask for a club, or for a part that is not built in yet.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    kind, key : str
        The club or the part.
    """
    found = []
    if kind not in ("club", "adhesive", *PIECES):
        return ()
    for view in views(read_book(reader)):
        for unit in view.units:
            if unit.built:
                continue
            parts = {s.need.part for s in unit.states if s.used < s.need.quantity}
            named = {"club": unit.club.id, "adhesive": unit.club.adhesive_id}.get(kind)
            if named == key or (kind, key) in parts:
                found.append(view.order.id)
                break
    return tuple(found)


def wanted_by(catalogue: Catalogue, kind: str, key: str) -> str:
    """Which open orders want a club or a part, in words; empty where none does.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind, key : str
        The club or the part.
    """
    with catalogue.read() as reader:
        names = orders_wanting(reader, kind, key)
    if not names:
        return ""
    return f"open order {names[0]} wants it" if len(names) == 1 else f"open orders {_named(names)} want it"
