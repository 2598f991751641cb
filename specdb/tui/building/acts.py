"""What is done with the measurements of the place Build: kept, waived, read with which instruments, on which piece."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING

from specdb.errors import ConflictError
from specdb.orders.as_built import Judgement
from specdb.orders.measured_words import value_words
from specdb.orders.tolerances import TOLERANCES
from specdb.tui.base import PlaceScreen
from specdb.tui.building.asked import (
    KeptDialog,
    WhoseDialog,
    instruments_dialog,
    meanwhile_words,
    piece_dialog,
    raw_of,
    sure_words,
    weigh_dialog,
)
from specdb.tui.building.judge import given
from specdb.tui.building.load import finished_of
from specdb.tui.building.measures import MeasuresPane, ValueInput
from specdb.tui.building.words import bias_lines, kept_lines
from specdb.tui.dialogs.lines import LinesDialog
from specdb.tui.dialogs.undo import AskDialog
from specdb.tui.dialogs.words import Wanted, WordsDialog
from specdb.tui.widgets.words import who
from specdb.units.writing import as_sentence
from specdb.verbs.building.bench_units import next_unit
from specdb.verbs.building.finished_clubs import Measured, MeasuredMeanwhileError, keep_built

if TYPE_CHECKING:
    from specdb.errors import SpecdbError
    from specdb.orders.availability import NeedState
    from specdb.sheets.content import SetSheet
    from specdb.tui.building.judge import OnBench, Read
    from specdb.tui.building.typed import TypedClub
    from specdb.verbs.building.as_built import BuiltAnswer
    from specdb.verbs.building.bench_units import BenchUnit
    from specdb.verbs.building.built_bias import BiasAnswer
    from specdb.verbs.building.finished_clubs import Seen
    from specdb.verbs.building.sheet_code import UnitMeant
    from specdb.verbs.orders.working import FinishLook

_INSTRUMENTS = "build.instruments"
_WIDTH = 88
_FRAME = 8


class BuildActs(PlaceScreen):
    """The part of the place that keeps what is typed.

    Attributes
    ----------
    bench : OnBench or None
        The club on the bench.
    typed : TypedClub or None
        What is typed of it.
    """

    bench: OnBench | None = None
    typed: TypedClub | None = None

    def _write(self) -> None:
        raise NotImplementedError

    def _open(self, meant: UnitMeant, *, again: bool = False, forgotten: bool = False) -> None:
        raise NotImplementedError

    def _look_again(self) -> None:
        raise NotImplementedError

    def _to_steps(self) -> None:
        raise NotImplementedError

    def reads(self) -> dict[str, Read]:
        """Every entry, read and judged."""
        raise NotImplementedError

    @property
    def instruments(self) -> dict[str, str]:
        """What the bench measures with, by quantity."""
        raise NotImplementedError

    @property
    def _text_width(self) -> int:
        return min(self.size.width - _FRAME, _WIDTH)

    @property
    def next_club(self) -> UnitMeant | None:
        """The next club of the order or set; None where there is no other."""
        if self.bench is None or self.bench.meant not in self.bench.mates or len(self.bench.mates) < 2:
            return None
        mates = self.bench.mates
        return mates[(mates.index(self.bench.meant) + 1) % len(mates)]

    # ---- keeping

    def action_keep(self) -> None:
        """Keep all that is typed."""
        if self.bench is None or self.typed is None:
            return
        reads = self.reads()
        bad = [r for r in reads.values() if r.error]
        if bad:
            names = ", ".join(TOLERANCES[r.quantity].title for r in bad)
            self.app.notify(f"Mend what is marked first: {names}.", severity="error", markup=False)
            self.query_one(MeasuresPane).entry(bad[0].quantity).focus()
            return
        values = given(reads)
        waived = {q: why for q, why in self.typed.waived.items() if q not in values}
        if not values and not waived:
            self.app.notify("Nothing is typed yet.")
            return
        using = {q: name for q, name in self.instruments.items() if q in values}
        measured, seen = Measured(values=values, waived=waived, instruments=using), dict(self.typed.seen)
        doubted = [r for r in reads.values() if r.judged is not None and r.judged.judgement == Judgement.IN_QUESTION]
        if doubted:
            self._ask_if_sure(doubted, measured, seen)
        else:
            self._keep(measured, seen)

    def _ask_if_sure(self, doubted: Sequence[Read], measured: Measured, seen: Mapping[str, Seen]) -> None:
        """Ask about values that are further off than work on the club can cause; answered with no, go to the first."""

        def answered(yes: bool | None) -> None:
            if yes:
                self._keep(measured, seen, sure=True)
            else:
                self.query_one(MeasuresPane).entry(doubted[0].quantity).focus()

        self.app.push_screen(AskDialog("Far from what was ordered", sure_words(doubted)), answered)

    def _keep(
        self, measured: Measured, seen: Mapping[str, Seen], *, use_parts: bool = True, sure: bool = False
    ) -> None:
        if self.typed is None:
            return
        catalogue, by = self.desk.catalogue, who(self.memory)
        typed = self.typed
        finished = finished_of(typed.meant, typed.piece)

        def job() -> tuple[BuiltAnswer, BiasAnswer, FinishLook | None, BenchUnit | None]:
            from specdb.verbs.building.built_bias import bias
            from specdb.verbs.orders.working import look_at_finishing

            kept = keep_built(catalogue, finished, measured, seen=seen, use_parts=use_parts, sure=sure, by=by or None)
            order = kept.finished.order if kept.done else None
            look = None if order is None else look_at_finishing(catalogue, order)
            following = next_unit(catalogue, typed.meant) if kept.done else None
            return kept, bias(catalogue), look, following

        self.work(
            job,
            partial(self._kept, typed, measured),
            group="keep",
            what="keep the measurements",
            failed=partial(self._not_kept, measured, seen, use_parts, sure),
            changes=True,
        )

    def _kept(
        self,
        typed: TypedClub,
        measured: Measured,
        found: tuple[BuiltAnswer, BiasAnswer, FinishLook | None, BenchUnit | None],
    ) -> None:
        answer, bias, look, following = found
        names = {*measured.values, *measured.waived}
        # what was typed on while it was being kept stays
        typed.texts = {q: t for q, t in typed.texts.items() if q not in measured.values}
        typed.waived = {q: t for q, t in typed.waived.items() if q not in names}
        typed.seen = {q: (r.value, r.waived) for q, r in answer.rows.items()}
        typed.keep(self.memory)
        if typed is self.typed:
            self.query_one(MeasuresPane).put(typed.texts)
            if answer.done and not typed.unkept:
                self._to_steps()
            self._look_again()
        lines = kept_lines(answer, names, bias, following, self._text_width)
        title = f"Kept: {answer.finished.club}"
        if following is None:
            self.app.push_screen(LinesDialog(title, lines), lambda _: self._offer(look, None))
            return
        to = following.meant
        self.app.push_screen(KeptDialog(title, lines), lambda on: self._offer(look, to if on else None))

    def _offer(self, look: FinishLook | None, to: UnitMeant | None) -> None:
        """Offer to finish the order whose last club was measured; then the next club, where it was asked for."""

        def go_on() -> None:
            if to is None:
                self._look_again()
            else:
                self._open(to)

        if look is not None and look.offered:
            from specdb.tui.orders.finishing import ask_to_finish

            ask_to_finish(self, look, go_on)
        elif to is not None:
            self._open(to)

    # ---- the order follows the work

    def work_begun(self, *, begun: bool) -> None:
        """Move the order of the club to the bench with its first tick, or back as that is taken back.

        Parameters
        ----------
        begun : bool
            Whether the first step was ticked off; else the only tick was taken back.
        """
        if self.bench is None or self.bench.meant.order is None:
            return
        catalogue, by = self.desk.catalogue, who(self.memory) or None
        order, club = self.bench.meant.order, self.bench.meant.club

        def job() -> str:
            from specdb.verbs.orders.working import put_on_bench, take_off_bench

            return (put_on_bench if begun else take_off_bench)(catalogue, order, club, by=by)

        def tell(said: str) -> None:
            if said:
                self.notify(as_sentence(said), markup=False, timeout=4)

        self.work(job, tell, group="order", what="move the order", changes=True)

    def _not_kept(
        self, measured: Measured, seen: Mapping[str, Seen], use_parts: bool, sure: bool, error: SpecdbError
    ) -> None:
        if isinstance(error, MeasuredMeanwhileError) and self.typed is not None:
            now: dict[str, Seen] = {r.quantity: (r.value, r.waived) for r in error.rows}
            text = meanwhile_words(error.rows, self.typed.texts, self.typed.waived)
            again = partial(self._keep, measured, {**seen, **now}, use_parts=use_parts, sure=sure)
            theirs = partial(self._leave_theirs, now)
            dialog = WhoseDialog("Measured elsewhere", text)
            self.app.push_screen(dialog, lambda yes: None if yes is None else again() if yes else theirs())
            return
        if isinstance(error, ConflictError) and use_parts:
            text = (
                f"{error}.\n\nNothing is kept yet. Keep the measurements all the same, and leave the parts as they "
                "are booked?"
            )
            again = partial(self._keep, measured, seen, use_parts=False, sure=sure)
        else:
            self.specdb.tell_error(error)
            return
        self.app.push_screen(AskDialog("Not kept", text), lambda yes: again() if yes else None)

    def _leave_theirs(self, now: Mapping[str, Seen]) -> None:
        """Take out what is typed of quantities whose value is left as another has kept it."""
        if self.typed is None:
            return
        for q in now:
            self.typed.texts.pop(q, None)
            self.typed.waived.pop(q, None)
        self.typed.follow(now)
        self.typed.keep(self.memory)
        self.query_one(MeasuresPane).put(self.typed.texts)
        self._look_again()

    def tell_of_others(self, before: OnBench, after: OnBench) -> None:
        """Say what somebody else has kept of this club, where something is typed for it here.

        Parameters
        ----------
        before, after : OnBench
            The club as it was shown, and as it is.
        """
        if self.typed is None:
            return
        old, new, mine = before.answer.rows, after.answer.rows, given(self.reads())
        for q in self.typed.unkept:
            row, was = new.get(q), old.get(q)
            if row is not None and (row.value, row.waived) == (mine.get(q), self.typed.waived.get(q)):
                continue  # what was typed here is being kept, and its answer is on the way
            if row is None or (was is not None and (was.value, was.waived) == (row.value, row.waived)):
                continue
            by = row.taken_by or "somebody"
            value = value_words(q, row.value) if row.value is not None else f"waived, as {row.waived}"
            text = f"{TOLERANCES[q].title}: {by} has kept {value} meanwhile; what is typed here is not kept yet."
            self.app.notify(text, title="Measured elsewhere", severity="warning", timeout=15, markup=False)

    # ---- a part that was spoilt

    def action_spoilt(self) -> None:
        """Book a part of this club as spoilt at the bench."""
        bench = self.bench
        if bench is None or bench.meant.order is None:
            return
        catalogue, of, order = self.desk.catalogue, bench.meant, bench.meant.order

        def job() -> list[NeedState]:
            from specdb.verbs.orders.orders import order_of

            units = order_of(catalogue, order).units
            return [
                s
                for u in units
                for s in u.states
                if (u.key.club_id, u.key.line, u.key.unit) == (of.club, of.line, of.unit)
            ]

        def ask(states: list[NeedState]) -> None:
            from specdb.tui.orders.spoilt import ask_for_spoilt

            ask_for_spoilt(self, order, states, self._spoilt)

        self.work(job, ask, group="spoilt", what="list the parts of the club")

    def _spoilt(self, said: str) -> None:
        self.app.notify(said, markup=False)
        self._look_again()

    # ---- not measured

    def action_waive(self) -> None:
        """Say why the quantity at hand is not measured."""
        if self.typed is None:
            return
        focused = self.focused
        name = focused.quantity if isinstance(focused, ValueInput) else self.query_one(MeasuresPane).at
        said = "It counts as waived once all is kept. Empty takes it back; what is typed for it is taken out."
        wanted = [Wanted("why", "because", self.typed.waived.get(name, ""), "such as: loft gauge out for repair")]
        dialog = WordsDialog(f"Why is the {TOLERANCES[name].title} not measured?", wanted, said=said)
        self.app.push_screen(dialog, partial(self._waived, name))

    def _waived(self, name: str, typed: Mapping[str, str] | None) -> None:
        if typed is None or self.typed is None or self.bench is None:
            return
        why = typed.get("why", "").strip()
        if why:
            self.typed.waived[name] = why
            self.typed.texts.pop(name, None)
            self.query_one(MeasuresPane).put(self.typed.texts)
        else:
            self.typed.waived.pop(name, None)
        self.typed.follow({q: (r.value, r.waived) for q, r in self.bench.answer.rows.items()})
        self.typed.keep(self.memory)
        self._write()
        if why:
            self.query_one(MeasuresPane).entry(name).action_other(1)

    # ---- instruments and the piece

    def action_instruments(self) -> None:
        """Name what each quantity is measured with."""
        if self.bench is not None:
            self.app.push_screen(instruments_dialog(self.bench, self.instruments), self._named)

    def _named(self, typed: Mapping[str, str] | None) -> None:
        if typed is not None:
            self.memory.put(_INSTRUMENTS, {q: name for q, name in typed.items() if name})
            self._write()

    def action_piece(self) -> None:
        """Name the piece of the shaft, and what was read on it raw."""
        if self.bench is not None and self.typed is not None:
            named = self.typed.piece or self.bench.answer.finished.piece or ""
            self.app.push_screen(piece_dialog(self.bench, named, self.instruments), self._piece_named)

    def action_weigh(self) -> None:
        """Take down what the raw shaft weighs."""
        if self.bench is not None and self.typed is not None:
            named = self.typed.piece or self.bench.answer.finished.piece or ""
            self.app.push_screen(weigh_dialog(self.bench, named, self.instruments), self._piece_named)

    def _piece_named(self, typed: Mapping[str, str] | None) -> None:
        if typed is None or self.typed is None:
            return
        self.typed.piece = typed["piece"]
        self.typed.keep(self.memory)
        raw = raw_of(typed, self.instruments)
        if not raw.given:
            self._look_again()
            return
        catalogue, by, finished = self.desk.catalogue, who(self.memory), finished_of(self.typed.meant, typed["piece"])
        self.work(
            lambda: keep_built(catalogue, finished, Measured(raw=raw), by=by or None),
            self._raw_kept,
            group="keep",
            what="keep the readings of the piece",
            changes=True,
        )

    def _raw_kept(self, answer: BuiltAnswer) -> None:
        told = f"Readings of {answer.finished.piece} are kept; what its club should come out at is worked out with it."
        self.app.notify(f"{told} Ctrl+z takes them back.", title="Kept", markup=False)
        self._look_again()

    # ---- to read

    def action_bias(self) -> None:
        """How finished clubs come out."""
        catalogue = self.desk.catalogue

        def job() -> BiasAnswer:
            from specdb.verbs.building.built_bias import bias

            return bias(catalogue)

        self.work(job, self._biased, group="bias", what="sum the clubs up")

    def _biased(self, answer: BiasAnswer) -> None:
        self.app.push_screen(LinesDialog("Clubs of this shop", bias_lines(answer, self._text_width)))

    def action_chart(self) -> None:
        """Show the trim chart of its set."""
        bench = self.bench
        if bench is None or bench.set_id is None:
            return
        catalogue, set_id, order = self.desk.catalogue, bench.set_id, bench.meant.order

        def job() -> SetSheet:
            from specdb.verbs.building.build_sheet import set_sheet

            return set_sheet(catalogue, set_id, order=order)[0]

        self.work(job, self._charted, group="chart", what="make the trim chart")

    def _charted(self, chart: SetSheet) -> None:
        from specdb.sheets.text import set_text

        text = set_text(chart, self._text_width)
        self.app.push_screen(LinesDialog("Trim chart", [((line, "plain"),) for line in text.splitlines()]))
