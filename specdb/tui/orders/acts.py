"""What is done with an order of the list: parts kept, freed, built in; its state; its sheets; where to go with it."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.errors import SpecdbError
from specdb.tui.base import PlaceScreen
from specdb.tui.dialogs.ask import WordDialog
from specdb.tui.dialogs.chooser import Chooser
from specdb.tui.orders.finishing import ask_to_finish
from specdb.tui.orders.spoilt import ask_for_spoilt
from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.words import who
from specdb.units.writing import as_sentence
from specdb.verbs.orders.working import OutsideToleranceError

if TYPE_CHECKING:
    from specdb.orders.availability import OrderView, UnitView
    from specdb.verbs.orders.parts import Which

_ALL = "all"
_COMMAND = re.compile(r" \('specdb [^)]*\)")


class OrderActs(PlaceScreen):
    """Everything that is done with the order of the cursor.

    Attributes
    ----------
    moved : set of str
        Orders that were moved to another state here; they stay in the list until it is made anew.
    """

    def __init__(self) -> None:
        super().__init__()
        self.moved: set[str] = set()

    @property
    def view(self) -> OrderView | None:
        """The order of the cursor."""
        raise NotImplementedError

    def _load(self) -> None:
        """Get the orders again."""
        raise NotImplementedError

    def _change(self, what: str, job: Callable[[], str]) -> None:
        self.work(job, self._told, group="change", what=what, failed=self._refused, changes=True)

    def _refused(self, error: SpecdbError) -> None:
        """Say why not, without the commands that a sentence may name."""
        if isinstance(error, OutsideToleranceError):
            ask_to_finish(self, error.look, self._load)
            return
        text = _COMMAND.sub("", str(error))
        self.app.notify(as_sentence(text), severity="error", timeout=10, markup=False)
        self._load()

    def _told(self, said: str) -> None:
        self.app.notify(said, markup=False)
        self._load()

    @property
    def _by(self) -> str | None:
        return who(self.memory) or None

    # ---- parts

    def action_keep(self) -> None:
        """Keep what is free on the shelf for this order."""
        view = self.view
        if view is None:
            return
        catalogue, order, by = self.desk.catalogue, view.order.id, self._by

        def job() -> str:
            from specdb.verbs.orders.parts import reserve_parts

            done = reserve_parts(catalogue, order, by=by)
            short = sum(s.short for s in done.short)
            kept = _pieces(done.pieces) + " kept" if done.done else "nothing more to keep"
            return f"{order}: {kept}" + (f"; {short} short." if short else ".")

        self._change("keep parts", job)

    def action_free(self) -> None:
        """Give the parts that are kept for it free again."""
        view = self.view
        if view is None:
            return
        catalogue, order, by = self.desk.catalogue, view.order.id, self._by

        def job() -> str:
            from specdb.verbs.orders.parts import release_parts

            done = release_parts(catalogue, order, by=by)
            return f"{order}: {_pieces(done.pieces)} given free." if done.done else f"{order}: nothing is kept for it."

        self._change("give parts free", job)

    def action_use(self) -> None:
        """Book the kept parts of a club, or of all clubs, as built in."""
        view = self.view
        if view is None:
            return
        ready = [u for u in view.units if any(s.reserved for s in u.states)]
        if not ready:
            self.app.notify(f"No part is kept for {view.order.id}; k keeps what is free.", markup=False)
        else:
            self._choose_unit("Built in: the parts of", view, ready, partial(self._use, view.order.id), whole=True)

    def _use(self, order: str, unit: UnitView | None) -> None:
        catalogue, by = self.desk.catalogue, self._by

        def job() -> str:
            from specdb.verbs.orders.parts import use_parts

            done = use_parts(catalogue, order, _which(unit), by=by)
            more = sum(s.open for s in done.short)
            beside = f" {_pieces(more)} that it needs beside {'was' if more == 1 else 'were'} not kept." if more else ""
            told = "".join(f" {as_sentence(text)}" for text in done.said)
            return f"{order}: {_pieces(done.pieces)} booked as built in.{beside}{told}"

        self._change("book parts as built in", job)

    def action_spoilt(self) -> None:
        """Book a part of this order as spoilt at the bench; the order needs it anew."""
        view = self.view
        if view is None:
            return
        ask_for_spoilt(self, view.order.id, view.states, self._told, self._refused)

    # ---- which club

    def _choose_unit(
        self,
        title: str,
        view: OrderView,
        units: Sequence[UnitView],
        then: Callable[[UnitView | None], None],
        *,
        whole: bool = False,
        part: str = "shaft",
    ) -> None:
        """Choose a club of the order, or all of them, by its label or a part; the only one is taken at once."""
        if len(units) == 1:
            then(units[0])
            return
        rows = [(_ALL, f"all {len(units)} clubs", "", "", "")] if whole else []
        rows += [(_name(u), u.club.id, u.club.label or "", _line(view, u), _part(u, part)) for u in units]
        titles = ("club", "label", "line", part)
        columns = [ColumnSpec(title, title) for title in titles]
        by_name = {_name(u): u for u in units}

        def chosen(key: str | None) -> None:
            if key is not None:
                then(by_name.get(key))

        self.app.push_screen(Chooser(title, columns, rows), chosen)

    def action_build(self) -> None:
        """Go to the bench with a club of this order."""
        view = self.view
        if view is None or not view.units:
            return
        left = [u for u in view.units if not u.built]
        self._choose_unit("To the bench with", view, left or list(view.units), self._to_bench)

    def _to_bench(self, unit: UnitView | None) -> None:
        if unit is not None:
            key = unit.key
            self.specdb.open_place("build", club=key.club_id, order=key.order_id, line=key.line, unit=key.unit)

    def action_standins(self) -> None:
        """Find what can stand in for a shaft that is short."""
        view = self.view
        if view is None or not view.units:
            return
        self._choose_unit("Find stand-ins for", view, _short_of("shaft", view), self._to_standins)

    def _to_standins(self, unit: UnitView | None) -> None:
        if unit is not None:
            self.specdb.open_place("standins", club=unit.club.id)

    def action_heads(self) -> None:
        """Find the heads that can stand in for a head that is short."""
        view = self.view
        if view is None or not view.units:
            return
        self._choose_unit("Find heads for", view, _short_of("head", view), self._to_heads, part="head")

    def _to_heads(self, unit: UnitView | None) -> None:
        if unit is not None:
            from specdb.tui.standins.heads_screen import HeadsScreen

            self.app.push_screen(HeadsScreen(club=unit.club.id))

    # ---- state and sheets

    def action_state(self) -> None:
        """Move the order to another state."""
        view = self.view
        if view is None:
            return
        from specdb.verbs.orders.changes import STEPS

        now = view.order.state.replace("_", " ")
        words = [w.replace("_", " ") for w in STEPS[view.order.state]]
        dialog = WordDialog(f"{view.order.id} is {now}; it becomes", words, words[0], may_clear=False)
        self.app.push_screen(dialog, partial(self._to_state, view.order.id))

    def _to_state(self, order: str, state: str | None) -> None:
        if not state:
            return
        self.moved.add(order)
        catalogue, by = self.desk.catalogue, self._by

        def job() -> str:
            from specdb.verbs.orders.changes import set_order_state

            done = set_order_state(catalogue, order, state, by=by)
            freed = sum(r.quantity for r in done.released)
            notes = [*done.notes, *([f"{_pieces(freed)} kept for it given free"] if freed else [])]
            return "; ".join((f"{order}: {done.before} → {done.after}".replace("_", " "), *notes)) + "."

        self._change("change the state", job)

    def action_sheets(self) -> None:
        """Write the build sheets of the order to a PDF file."""
        from specdb.tui.dialogs.save_as import ask_for_file

        view = self.view
        if view is not None:
            order = view.order.id
            ask_for_file(self, f"Build sheets of {order}", f"{order}.pdf", (".pdf",), partial(self._sheets, order))

    def _sheets(self, order: str, path: Path) -> None:
        catalogue = self.desk.catalogue

        def job() -> str:
            from specdb.verbs.building.build_sheet import order_sheets, write_pdf

            write_pdf(path, order_sheets(catalogue, order))
            return f"Written: {path}"

        self._change("write the sheets", job)


def _short_of(kind: str, view: OrderView) -> list[UnitView]:
    """Clubs of an order that a part is short of, each once; all its clubs where none is."""
    one_each = list({u.club.id: u for u in view.units}.values())
    return [u for u in one_each if any(s.need.kind == kind and s.waiting for s in u.states)] or one_each


def _pieces(count: int) -> str:
    return "1 piece" if count == 1 else f"{count} pieces"


def _name(unit: UnitView) -> str:
    return f"{unit.key.line}.{unit.key.unit}.{unit.key.club_id}"


def _part(unit: UnitView, kind: str) -> str:
    """Which part of a kind goes in."""
    return (unit.stand_in if kind == "shaft" else None) or getattr(unit.club, f"{kind}_id") or ""


def _line(view: OrderView, unit: UnitView) -> str:
    line = next((one for one in view.lines if one.line == unit.key.line), None)
    of = f" of {line.quantity}" if line is not None and line.quantity > 1 else ""
    number = f", no {unit.key.unit}{of}" if of else ""
    return f"{unit.key.line}{number}"


def _which(unit: UnitView | None) -> Which | None:
    from specdb.verbs.orders.parts import Which

    return None if unit is None else Which(club_id=unit.key.club_id, line=unit.key.line, unit=unit.key.unit)
