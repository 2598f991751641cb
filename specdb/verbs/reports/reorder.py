"""What to reorder: use per month from the ledger, lead time of past supplies from the journal, what open orders need.

A part is to be reordered when what is free, less what open orders still need, with what is on order, is less than what
the shop may use while it waits. That use is taken as Poisson; the reorder level covers it in 19 of 20 waits.

References
----------
Poisson demand during the lead time with a stated service level: common practice of stock keeping, no source.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from specdb.catalogue import Catalogue, Reader
from specdb.errors import UsageError
from specdb.orders.availability import views
from specdb.orders.needs import PIECES, Part
from specdb.records.rows import StockMove
from specdb.verbs.orders.changes import today as shop_day
from specdb.verbs.orders.orders import read_book
from specdb.verbs.reports.types import Report, ReportColumn

MONTH_DAYS = 365.25 / 12.0
MONTHS = 6.0
"""Use is averaged over so many months, or since the first move where that is less."""
COVER = 0.95
"""Share of waits that the reorder level covers."""
USUAL_LEAD_DAYS = 21
"""Taken where nothing at all is known of any supply."""
_LEAVING = ("used", "damaged")
_KINDS = (*PIECES, "adhesive")


@dataclass(frozen=True, slots=True)
class ReorderLine:
    """A part with its use and what to order.

    Attributes
    ----------
    kind, item_id : str
        The part.
    order : int
        Pieces to order; 0 where none.
    on_hand, held, needed, ordered : int
        Pieces there are, of them kept, wanted by open orders beside, and on order.
    use_per_month : float
        Pieces used or spoilt a month.
    lead_days : int
        From asking to receiving.
    lead_from : str
        Where that is from.
    level : int
        Pieces below which it is reordered.
    first_on : date or None
        When the first of those on order are expected.
    supplier : str or None
        Who was asked last, or who is written with the part.
    note : str
        What should be known.
    """

    kind: str
    item_id: str
    order: int
    on_hand: int
    held: int
    needed: int
    ordered: int
    use_per_month: float
    lead_days: int
    lead_from: str
    level: int
    first_on: dt.date | None
    supplier: str | None
    note: str


def reorder_report(
    catalogue: Catalogue, *, day: dt.date | None = None, cover_months: float = 1.0, everything: bool = False
) -> Report:
    """What to reorder, how many, and why.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    day : date or None
        The day it is of; today where None.
    cover_months : float
        What is ordered lasts so long beyond the lead time, months.
    everything : bool
        List every part that is used or needed, also where none is to be ordered.

    Raises
    ------
    UsageError
        If the months make no sense.
    """
    if not 0.0 < cover_months <= 24.0:
        raise UsageError(f"an order that lasts {cover_months:g} months makes no sense; give more than 0 up to 24")
    on = day or shop_day()
    with catalogue.read() as reader:
        book = read_book(reader)
        needed: dict[Part, int] = {}
        for view in views(book):
            for state in view.states:
                needed[state.need.part] = needed.get(state.need.part, 0) + state.open - state.gone
        moves: list[StockMove] = [m for m in reader.rows("stock_move") if m.kind in _KINDS]
        leads = LeadTimes.read(reader, moves)
        stock = {(kind, item): n for kind in _KINDS for item, n in reader.stock(kind).items()}
        suppliers = _suppliers(reader)
    use = use_per_month(moves, on)
    lines = []
    asked = {*use, *(p for p, n in needed.items() if n), *book.shelf.beyond}
    for part in sorted(asked, key=lambda p: (_KINDS.index(p[0]), p[1])):
        arrivals = book.shelf.arrivals.get(part, ())
        lead, lead_from = leads.of(part, suppliers.get(part))
        a_month = use.get(part, 0.0)
        level = covering(a_month * lead / MONTH_DAYS)
        ordered = sum(a.pieces for a in arrivals)
        held, wanted = book.shelf.held.get(part, 0), needed.get(part, 0)
        left = stock.get(part, 0) - held - wanted + ordered
        retired = part in book.shelf.retired
        pieces = 0
        if not retired and (left < 0 or left < level):
            pieces = max(level + math.ceil(a_month * cover_months) - left, 1)
        if not pieces and not everything and not (retired and left < 0):
            continue
        lines.append(
            ReorderLine(
                kind=part[0],
                item_id=part[1],
                order=pieces,
                on_hand=stock.get(part, 0),
                held=held,
                needed=wanted,
                ordered=ordered,
                use_per_month=round(a_month, 2),
                lead_days=lead,
                lead_from=lead_from,
                level=level,
                first_on=next((a.day for a in arrivals if a.day is not None), None),
                supplier=suppliers.get(part),
                note="retired: look for another" if retired and left < 0 else "open orders wait" if left < 0 else "",
            )
        )
    lines.sort(key=lambda line: (line.note == "", -line.order, _KINDS.index(line.kind), line.item_id))
    return Report(
        "reorder",
        "What to reorder",
        on,
        _COLUMNS,
        tuple(lines),
        _said(cover_months),
        "Nothing is to be reordered.",
        further=_FURTHER,
    )


_COLUMNS = (
    ReportColumn("kind", "part", keep=True),
    ReportColumn("item_id", "id", keep=True),
    ReportColumn("order", "to order", number=True, keep=True),
    ReportColumn("on_hand", "on hand", number=True),
    ReportColumn("held", "kept", number=True),
    ReportColumn("needed", "needed beside", number=True),
    ReportColumn("ordered", "on order", number=True),
    ReportColumn("use_per_month", "used a month", number=True, decimals=1),
    ReportColumn("lead_days", "lead time, days", number=True),
    ReportColumn("level", "reorder below", number=True),
    ReportColumn("note", "note", wraps=True),
    ReportColumn("lead_from", "lead time from", wraps=True),
    ReportColumn("first_on", "expected"),
    ReportColumn("supplier", "supplier", keep=True),
)


def _said(cover_months: float) -> tuple[str, ...]:
    months = f"{cover_months:g} month{'s' if cover_months != 1 else ''}"
    return (
        f"Reorder below: used up in the lead time in 19 of 20 cases; to order: up to that and the use of {months}.",
    )


_FURTHER = (
    f"Use is averaged over the last {MONTHS:g} months, or since the first move where that is less.",
    "A proposal: it knows nothing of seasons, prices and pack sizes.",
)


def use_per_month(moves: Iterable[StockMove], on: dt.date) -> dict[Part, float]:
    """Pieces used or spoilt a month, by part.

    Parameters
    ----------
    moves : iterable of StockMove
        The ledger; moves without a day are left out.
    on : date
        The day the months are counted back from.
    """
    dated = [m for m in moves if m.on is not None and m.on <= on]
    if not dated:
        return {}
    first = min(m.on for m in dated if m.on is not None)
    since = max(first, on - dt.timedelta(days=round(MONTHS * MONTH_DAYS)))
    months = max((on - since).days / MONTH_DAYS, 1.0)
    used: dict[Part, int] = {}
    for m in dated:
        if m.reason in _LEAVING and m.on is not None and m.on >= since:
            used[m.kind, m.item_id] = used.get((m.kind, m.item_id), 0) - m.quantity
    return {part: pieces / months for part, pieces in used.items() if pieces > 0}


def covering(mean: float, share: float = COVER) -> int:
    """Smallest number that a Poisson count stays at or below with a probability.

    Parameters
    ----------
    mean : float
        Mean of the count.
    share : float
        The probability.
    """
    if mean <= 0.0:
        return 0
    count, term = 0, math.exp(-mean)
    total = term
    while total < share:
        count += 1
        term *= mean / count
        total += term
        if term == 0.0 and count > mean:  # a mean too large for the exponential
            return math.ceil(mean + 1.645 * math.sqrt(mean))
    return count


@dataclass(frozen=True, slots=True)
class LeadTimes:
    """Days from asking a supplier to receiving the pieces.

    Attributes
    ----------
    received : mapping of Part to sequence of int
        Of supplies that came, by part.
    by_supplier : mapping of str to sequence of int
        The same by supplier.
    promised : mapping of Part to sequence of int
        Days promised of supplies that have not come yet.
    """

    received: Mapping[Part, Sequence[int]]
    by_supplier: Mapping[str, Sequence[int]]
    promised: Mapping[Part, Sequence[int]]

    @classmethod
    def read(cls, reader: Reader, moves: Iterable[StockMove]) -> LeadTimes:
        """From the journal of supplies and the ledger.

        Parameters
        ----------
        reader : Reader
            The catalogue.
        moves : iterable of StockMove
            The ledger.
        """
        came: dict[Part, list[dt.date]] = {}
        for m in moves:
            if m.reason == "received" and m.on is not None:
                came.setdefault((m.kind, m.item_id), []).append(m.on)
        received: dict[Part, list[int]] = {}
        by_supplier: dict[str, list[int]] = {}
        promised: dict[Part, list[int]] = {}
        for part, asked in _asked(reader).items():
            days = sorted(asked)
            for number, one in enumerate(days):
                # what came before the next asking answers this one
                until = days[number + 1] if number + 1 < len(days) else dt.date.max
                first = min((d for d in came.get(part, ()) if one < d <= until), default=None)
                supplier, expected = asked[one]
                if first is not None:
                    received.setdefault(part, []).append((first - one).days)
                    if supplier:
                        by_supplier.setdefault(supplier, []).append((first - one).days)
                elif expected is not None and expected > one:
                    promised.setdefault(part, []).append((expected - one).days)
        return cls(received, by_supplier, promised)

    def of(self, part: Part, supplier: str | None) -> tuple[int, str]:
        """Lead time of a part, days, and where it is from.

        Parameters
        ----------
        part : Part
            Kind and key.
        supplier : str or None
            Its supplier.
        """
        known = self.received.get(part)
        if known:
            return round(median(known)), f"{_supplies(known)} of it that came"
        known = self.by_supplier.get(supplier or "")
        if known:
            return round(median(known)), f"{_supplies(known)} from {supplier} that came"
        every = [days for some in self.received.values() for days in some]
        if every:
            return round(median(every)), f"{_supplies(every)} of any part that came"
        known = self.promised.get(part)
        if known:
            return round(median(known)), "what was promised for it"
        every = [days for some in self.promised.values() for days in some]
        if every:
            return round(median(every)), f"what was promised for {_supplies(every)} of other parts"
        return USUAL_LEAD_DAYS, "assumed: no supply is known"


def _supplies(known: Sequence[int]) -> str:
    return f"{len(known)} suppl{'y' if len(known) == 1 else 'ies'}"


def _asked(reader: Reader) -> dict[Part, dict[dt.date, tuple[str | None, dt.date | None]]]:
    """Every day on which pieces were asked for, by part, with supplier and day promised."""
    found: dict[Part, dict[dt.date, tuple[str | None, dt.date | None]]] = {}
    for row in reversed(reader.history("supply")):
        image = row.after
        if image is None or not image.get("ordered") or not image.get("asked_on"):
            continue
        part = (str(image["kind"]), str(image["item_id"]))
        expected = image.get("expected_on")
        found.setdefault(part, {})[dt.date.fromisoformat(str(image["asked_on"]))] = (
            image.get("supplier"),
            None if expected is None else dt.date.fromisoformat(str(expected)),
        )
    return found


def _suppliers(reader: Reader) -> dict[Part, str]:
    """Supplier by part: who is written with it, or who was asked last."""
    found: dict[Part, str] = {}
    for kind in _KINDS:
        rows = reader.arrow(kind, ["id", "supplier"])
        for key, name in zip(rows["id"].to_pylist(), rows["supplier"].to_pylist(), strict=True):
            if name:
                found[kind, key] = name
    for line in sorted(reader.rows("supply"), key=lambda s: s.asked_on or dt.date.min):
        if line.supplier:
            found[line.kind, line.item_id] = line.supplier
    return found
