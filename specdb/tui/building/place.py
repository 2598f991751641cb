"""The place Build: one club at the bench, its work step by step in large print, then what is measured."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.events import DescendantFocus, Resize, ScreenResume
from textual.widgets import Input, Label

from specdb.orders.tolerances import TOLERANCES
from specdb.sheets.content import MEASURED, RAW_WEIGHT
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.building.acts import BuildActs
from specdb.tui.building.finding import FindsClub
from specdb.tui.building.judge import Read, read
from specdb.tui.building.load import put_on_bench
from specdb.tui.building.log import Work, WorkLog, ticked
from specdb.tui.building.measures import MeasuresPane, ValueInput
from specdb.tui.building.steps import StepScroll, StepsPane
from specdb.tui.building.typed import take_up
from specdb.tui.building.words import head_line, standing_of
from specdb.tui.dialogs.lines import LinesDialog
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.prose import sentence
from specdb.verbs.building.sheet_code import UnitMeant, code_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from specdb.errors import SpecdbError
    from specdb.sheets.content import WorkStep
    from specdb.tui.building.judge import OnBench

_LAST, _INSTRUMENTS = "build.last", "build.instruments"
_BESIDE_COLUMNS = 150
_WHILE_MEASURING = frozenset({"keep", "waive", "instruments"})
_WHILE_WORKING = frozenset({"forward", "onward", "backward", "untick", "measure", "scan", "next_club", "spoilt"})
_NEEDS_CLUB = {"weigh"} | _WHILE_MEASURING | _WHILE_WORKING - {"scan"} | {"turn", "piece", "sheet", "chart"}


class BuildScreen(BuildActs, FindsClub, PlaceScreen):
    """Work and measurements of one club."""

    place = "build"
    AUTO_FOCUS = ""
    ACTIONS = (
        Action("forward", "space", "done, next", "Read on to the end of the step; then tick it off, and go on."),
        Action("backward", "left,backspace", "back", "The step before."),
        Action("onward", "right", "next", "The next step, without ticking this one off.", shown=False),
        Action("measure", "m", "measure", "Go to the measurements."),
        Action("weigh", "w", "weigh raw", "Take down what the raw shaft weighs, as a reading of its piece."),
        Action("keep", "ctrl+s", "keep all", "Keep all that is typed, with the parts it took, as one change.",
               priority=True),
        Action("waive", "ctrl+w", "not measured", "Say why this quantity is not measured.", priority=True),
        Action("instruments", "ctrl+e", "instruments", "Name what each quantity is measured with.", priority=True),
        Action("turn", "f9", "steps or measures", "Change between the steps and the measurements.", shown=False,
               priority=True),
        Action("scan", "s", "scan", "Scan the code of a build sheet; a code that is scanned at a step needs no key."),
        Action("pick", "ctrl+n", "club", "Choose a club from the open orders, or any fitted club.", priority=True),
        Action("first", "enter", "club", "With no club on the bench: choose one.", shown=False),
        Action("piece", "ctrl+r", "piece", "Name the measured piece of the shaft; weigh and time it raw.",
               priority=True),
        Action("sheet", "v", "sheet", "Show the whole build sheet."),
        Action("next_club", "n", "next club", "Go to the next club of the order or set."),
        Action("chart", "c", "trim chart", "Show the trim chart of its set.", shown=False),
        Action("spoilt", "z", "spoilt", "Book a part of this club as spoilt at the bench; its order needs it anew."),
        Action("untick", "u", "untick", "Take the tick of this step back.", shown=False),
        Action("bias", "i", "bias", "How finished clubs come out against what was predicted.", shown=False),
        Action("back", "escape", "leave", "Leave the entries for the steps, else go back.", shown=False),
    )  # fmt: skip
    DEFAULT_CSS = """
    BuildScreen #head { height: auto; background: $panel; padding: 0 2; }
    BuildScreen #head-club { height: 1; }
    BuildScreen #scan-row { height: 1; }
    BuildScreen #scan-row Label { width: 14; color: $quiet; }
    BuildScreen #scan { width: 1fr; max-width: 60; border: none; height: 1; padding: 0 1; background: $surface; }
    BuildScreen #scan:focus { border: none; background: $picked; }
    BuildScreen.-measuring WaitingLine { dock: top; margin-top: 2; margin-bottom: 0; }
    BuildScreen #scan-said { height: auto; display: none; }
    BuildScreen #panes { height: 1fr; layout: horizontal; }
    BuildScreen MeasuresPane { display: none; }
    BuildScreen.-measuring MeasuresPane { display: block; }
    BuildScreen.-measuring StepsPane { display: none; }
    BuildScreen.-beside MeasuresPane { display: block; width: 1fr; border-left: solid $panel; }
    BuildScreen.-beside StepsPane { display: block; width: 1fr; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._work = Work()
        self._stale = False
        self._measuring = False

    def compose(self) -> ComposeResult:
        """Which club, its steps, its measurements."""
        with Vertical(id="head"):
            yield LinesView(id="head-club")
            with Horizontal(id="scan-row"):
                yield Label("scan or club")
                yield Input(id="scan", placeholder="code of a sheet, or a club; enter alone: the list", compact=True)
            yield LinesView(id="scan-said")
        with Horizontal(id="panes"):
            yield StepsPane(id="steps")
            yield MeasuresPane(id="measures")

    def on_mount(self) -> None:
        """Go on with the last club, else ask for one."""
        self._focus_steps()
        last = self.memory.get(_LAST, None)
        if self.bench is None and isinstance(last, dict) and last.get("club"):
            line, unit = last.get("line"), last.get("unit")
            self._open(UnitMeant(str(last["club"]), last.get("order"), line, unit), forgotten=True)
        else:
            self._say_none()

    def opened(
        self,
        club: str | None = None,
        order: str | None = None,
        line: int | None = None,
        unit: int | None = None,
        code: str | None = None,
        **_: Any,  # noqa: ANN401 (as the place screen's)
    ) -> None:
        """Go to a club, of an order where one is named.

        Parameters
        ----------
        club, order : str or None
            Their keys.
        line, unit : int or None
            Line of the order, and which of its quantity.
        code : str or None
            Code of a build sheet, or name of a club, as scanned.
        """
        if code is not None:
            self._find(code)
        elif club is not None and unit is not None:
            self._open(UnitMeant(club, order, line, unit))
        elif club is not None:
            self._find(code_of(UnitMeant(club, order)))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002 (as Textual's)
        """Whether something can be done now."""
        if action in _NEEDS_CLUB and self.bench is None:
            return False
        if action == "first":
            return self.bench is None
        if action in _WHILE_MEASURING:
            return self._measuring
        if action == "weigh":
            return not self._measuring and self.step is not None and self.step.asks == RAW_WEIGHT
        if action == "spoilt" and self.bench is not None and self.bench.meant.order is None:
            return False
        if action == "chart":
            return self.bench is not None and self.bench.set_id is not None
        return not (action in _WHILE_WORKING and self._measuring)

    # ---- changes and sizes

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the place screen's)
        """Work the club out again, now or when we are back."""
        if self.is_current:
            self._look_again()
        else:
            self._stale = True

    def _look_again(self) -> None:
        self._stale = False
        if self.bench is not None:
            self._open(self.bench.meant, again=True)

    @on(ScreenResume)
    def _resumed(self) -> None:
        if self._stale:
            self._look_again()

    @on(Resize)
    def _resized(self) -> None:
        self.set_class(self.size.width >= _BESIDE_COLUMNS, "-beside")
        self.call_after_refresh(self._write)

    # ---- which club

    def _open(self, meant: UnitMeant, *, again: bool = False, forgotten: bool = False) -> None:
        catalogue, log = self.desk.catalogue, WorkLog(self.memory)
        piece = self.typed.piece if self.typed is not None and self.typed.meant == meant else None

        def job() -> tuple[OnBench, Work]:
            kept = take_up(self.memory, meant).piece if piece is None else piece
            bench = put_on_bench(catalogue, meant, kept)
            return bench, log.read(bench.meant)

        def failed(error: SpecdbError) -> None:
            if forgotten:  # the club of last time is gone
                self._say_none()
            elif again:
                self.specdb.tell_error(error)
            else:
                self._say_scan(error)

        self.work(job, partial(self._show, again), group="club", what="put the club on the bench", failed=failed)

    def _show(self, again: bool, found: tuple[OnBench, Work]) -> None:
        before, (bench, work) = self.bench, found
        other = before is None or before.meant != bench.meant
        self.bench = bench
        if other or self.typed is None:
            self.typed = take_up(self.memory, bench.meant)
            self.query_one(MeasuresPane).put(self.typed.texts)
            self.query_one(MeasuresPane).to_first()
            self._say_scan(None)
        if other or not again:
            self._work = work
            self.query_one(StepsPane).to_top()
            self._to_steps()
        elif before is not None:
            self.tell_of_others(before, bench)
        self.typed.follow({q: (r.value, r.waived) for q, r in bench.answer.rows.items()})
        of = bench.meant
        self.memory.put(_LAST, {"club": of.club, "order": of.order, "line": of.line, "unit": of.unit})
        self._write()
        self.actions_changed()

    def _say_none(self) -> None:
        text = "No club is on the bench. Scan the code of its build sheet, or choose it from the open orders: ctrl+n."
        self.query_one(StepsPane).say([(), *sentence(text, max(self.size.width - 8, 36), part="strong")])

    # ---- steps

    def _write(self) -> None:
        """Write everything anew."""
        if self.bench is None or self.typed is None:
            return
        sheet = self.bench.sheet
        width = max(self.size.width - 4, 36)
        self.query_one("#head-club", LinesView).show([head_line(self.bench, self.typed.unkept, width)])
        said = (sheet.verdict, *sheet.reasons) if sheet.reasons else ()
        said += (self.bench.answer.measure_again,) if self.bench.answer.measure_again else ()
        self.query_one(StepsPane).show(sheet, self._work, said=said, standing=standing_of(self.bench))
        reads = self.reads()
        self.query_one(MeasuresPane).show(self.bench, reads, self.typed.waived, self.instruments)

    def action_forward(self) -> None:
        """Read on, else tick the step off and go on."""
        pane = self.query_one(StepsPane)
        if self.bench is None:
            return
        if pane.unread:
            pane.read_on()
            return
        steps, at = self.bench.sheet.steps, min(self._work.at, len(self.bench.sheet.steps) - 1)
        if steps[at].asks == MEASURED and not self.bench.answer.done:
            self.action_measure()  # it is ticked off by what is measured
            return
        now, first = dt.datetime.now(dt.UTC), not self._work.done
        self._work = ticked(self._work, steps, at, now)
        self._log(lambda log, meant: log.tick(meant, steps, at, now))
        if first:
            self.work_begun(begun=True)
        if steps[at].asks == MEASURED:
            self.action_measure()

    @property
    def step(self) -> WorkStep | None:
        """The step one is at; None where no club is on the bench."""
        steps = () if self.bench is None else self.bench.sheet.steps
        return steps[min(self._work.at, len(steps) - 1)] if steps else None

    def action_onward(self) -> None:
        """The next step."""
        self._go(1)

    def action_backward(self) -> None:
        """The step before."""
        self._go(-1)

    def _go(self, by: int) -> None:
        if self.bench is not None:
            last = len(self.bench.sheet.steps) - 1
            at = min(max(min(self._work.at, last) + by, 0), last)
            self._work = Work(at, self._work.done)
            self._log(lambda log, meant: log.go(meant, at))

    def action_untick(self) -> None:
        """Take the tick of this step back."""
        if self.bench is not None:
            steps, at = self.bench.sheet.steps, min(self._work.at, len(self.bench.sheet.steps) - 1)
            some = bool(self._work.done)
            self._work = ticked(self._work, steps, at, None)
            self._log(lambda log, meant: log.tick(meant, steps, at, None))
            if some and not self._work.done:
                self.work_begun(begun=False)

    def _log(self, act: Callable[[WorkLog, UnitMeant], None]) -> None:
        """Show the step, and remember it."""
        self.query_one(StepsPane).to_top()
        self._write()
        self.actions_changed()
        if self.bench is not None:
            log, meant = WorkLog(self.memory), self.bench.meant
            self.work(lambda: act(log, meant), lambda _: None, group="log", what="remember the step", changes=True)

    def action_sheet(self) -> None:
        """Show the whole build sheet."""
        if self.bench is not None:
            from specdb.sheets.text import club_text

            text = club_text(self.bench.sheet, min(self.size.width - 6, 88))
            self.app.push_screen(LinesDialog("Build sheet", [((line, "plain"),) for line in text.splitlines()]))

    def action_next_club(self) -> None:
        """Go to the next club of the order or set."""
        if self.next_club is not None:
            self._open(self.next_club)
        else:
            self.app.notify("There is no other club of this order or set.")

    # ---- steps or measurements

    def _to_steps(self) -> None:
        self._measuring = False
        self.remove_class("-measuring")
        self._focus_steps()
        self.call_after_refresh(self._write)  # once there is room for the steps
        self.actions_changed()

    def _focus_steps(self) -> None:
        self.set_focus(self.query_one(StepScroll))

    def action_measure(self) -> None:
        """Go to the measurements."""
        if self.bench is not None:
            self._measuring = True
            self.add_class("-measuring")
            self.query_one(MeasuresPane).begin(self.bench.answer.rows)
            self.call_after_refresh(self._write)
            self.actions_changed()

    def action_turn(self) -> None:
        """Change between steps and measurements."""
        if self._measuring:
            self._to_steps()
        else:
            self.action_measure()

    @on(DescendantFocus)
    def _moved(self, message: DescendantFocus) -> None:
        measuring = isinstance(message.widget, ValueInput)
        if measuring != self._measuring and (measuring or isinstance(message.widget, StepScroll)):
            self._measuring = measuring
            self.set_class(measuring, "-measuring")
            self.actions_changed()

    def action_back(self) -> None:
        """Leave an entry for the steps, else go back."""
        if self.focused is self.query_one("#scan", Input) or self._measuring:
            self._to_steps()
        else:
            super().action_back()

    # ---- what is typed

    @on(MeasuresPane.Typed)
    def _typed(self, message: MeasuresPane.Typed) -> None:
        if self.bench is None or self.typed is None:
            return
        if not message.moved:
            self.typed.texts = self.query_one(MeasuresPane).texts
            self.typed.follow({q: (r.value, r.waived) for q, r in self.bench.answer.rows.items()})
            self.typed.keep(self.memory)
        self._write()

    @property
    def instruments(self) -> dict[str, str]:
        """What the bench measures with, by quantity."""
        held = self.memory.get(_INSTRUMENTS, {})
        return {q: str(held[q]) for q in TOLERANCES if held.get(q)} if isinstance(held, dict) else {}

    def reads(self) -> dict[str, Read]:
        """Every entry, read and judged."""
        if self.bench is None or self.typed is None:
            return {}
        today, using = dt.date.today(), self.instruments  # noqa: DTZ011 (the shop's own day)
        return {q: read(self.bench, q, self.typed.texts.get(q, ""), using.get(q, ""), today) for q in TOLERANCES}
