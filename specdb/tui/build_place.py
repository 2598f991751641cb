"""The place Build: the work on one club step by step in large print, then what is measured, judged as it is typed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.events import Resize
from textual.widgets import Input, Label, Static

from specdb.errors import FieldError, UnitError
from specdb.orders.as_built import Aim, ClubFacts, Judgement, judge
from specdb.orders.tolerances import TOLERANCES
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.lines_dialog import LinesDialog
from specdb.tui.picker import Picker
from specdb.tui.prose import Line, content, heading, sentence
from specdb.tui.words_dialog import Wanted, WordsDialog
from specdb.verbs.as_built import BiasAnswer, BuiltAnswer, Finished, built, built_answer, expected_of, parse_built
from specdb.verbs.build_sheet import CODE, SheetRequest, club_sheet

if TYPE_CHECKING:
    from collections.abc import Mapping

    from specdb.sheets.content import ClubSheet

_LAST = "build.last"
_PARTS = {
    Judgement.AS_WANTED: "good",
    Judgement.WITHIN_DOUBT: "doubt",
    Judgement.OUTSIDE: "bad",
}


@dataclass(frozen=True, slots=True)
class _Loaded:
    """What the place shows of one club."""

    finished: Finished
    sheet: ClubSheet
    answer: BuiltAnswer
    aims: Mapping[str, Aim]
    facts: ClubFacts


class ValueInput(Input):
    """An entry that enter leaves at once, so that what is typed right after it goes into the next one."""

    async def action_submit(self) -> None:
        """Go to the next entry."""
        entries = [e for e in self.screen.query(ValueInput) if not e.disabled]
        self.screen.set_focus(entries[(entries.index(self) + 1) % len(entries)])


class BuildScreen(PlaceScreen):
    """Work and measurements of one club."""

    place = "build"
    AUTO_FOCUS = ""  # the keys of the steps work until somebody goes to the entries
    ACTIONS = (
        Action("pick", "ctrl+n", "club", "Choose a club, or scan the code of its build sheet.", priority=True),
        Action("forward", "space,f9", "next step", "This step is done: the next one."),
        Action("backward", "backspace", "step back", "The step before.", shown=False),
        Action("measure", "m", "measure", "Go to the measurements."),
        Action("keep", "ctrl+s", "keep all", "Keep all values that are typed, as one change.", priority=True),
        Action("waive", "ctrl+w", "waive", "Say why a quantity is not measured.", priority=True),
        Action("bias", "i", "bias", "How finished clubs come out against what was predicted.", shown=False),
        Action("sheet", "v", "whole sheet", "Show the whole build sheet."),
        Action("back", "escape", "back", "Leave the entries, else go back.", shown=False),
    )
    DEFAULT_CSS = """
    BuildScreen #step { height: auto; min-height: 6; padding: 1 2; background: $surface; border-bottom: solid $panel; }
    BuildScreen #step Static { height: auto; }
    BuildScreen #entries { height: 1fr; padding: 0 1 0 2; scrollbar-size-vertical: 1; }
    BuildScreen .row { height: auto; min-height: 1; margin-bottom: 1; }
    BuildScreen .row Label { width: 17; text-style: bold; }
    BuildScreen .row Input { width: 14; border: none; height: 1; padding: 0 1; background: $panel; text-style: bold; }
    BuildScreen .row Input:focus { border: none; background: $boost; }
    BuildScreen .row Static { width: 1fr; height: auto; padding: 0 1; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._loaded: _Loaded | None = None
        self._step = 0

    def compose(self) -> ComposeResult:
        """The step, then an entry a quantity."""
        with VerticalScroll(id="step", can_focus=False):
            yield Static("", id="words", markup=False)
        with VerticalScroll(id="entries", can_focus=False):
            for name, tolerance in TOLERANCES.items():
                with Horizontal(classes="row"):
                    yield Label(tolerance.title)
                    yield ValueInput(id=f"value-{name}", placeholder=tolerance.said)
                    yield Static("", id=f"said-{name}", markup=False)

    def on_mount(self) -> None:
        """Go on with the last club, else ask for one."""
        self.set_focus(None)
        last = self.memory.get(_LAST, None)
        if isinstance(last, dict) and last.get("club"):
            self._open(
                Finished(club=str(last["club"]), order=last.get("order"), line=last.get("line"), unit=last.get("unit"))
            )
        else:
            self._write_step()

    def opened(
        self,
        club: str | None = None,
        order: str | None = None,
        line: int | None = None,
        unit: int | None = None,
        **_: Any,  # noqa: ANN401 (as the place screen's)
    ) -> None:
        """Go to a club, of an order where one is named.

        Parameters
        ----------
        club, order : str or None
            Their keys.
        line, unit : int or None
            Line of the order, and which of its quantity.
        """
        if club is not None:
            self._open(Finished(club=club, order=order, line=line, unit=unit))

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the place screen's)
        """Work the club out again."""
        if self._loaded is not None:
            self._open(self._loaded.finished, again=True)

    @on(Resize)
    def _resized(self) -> None:
        self.call_after_refresh(self._write_anew)

    def _write_anew(self) -> None:
        self._write_step()
        for name in TOLERANCES:
            self._judge(name)

    # ---- which club

    def _open(self, finished: Finished, *, again: bool = False) -> None:
        if not again:
            self._step = 0
        catalogue = self.desk.catalogue

        def job() -> _Loaded:
            sheet = club_sheet(catalogue, SheetRequest(finished.club, order=finished.order))
            aims, facts = expected_of(catalogue, finished)
            return _Loaded(finished, sheet, built_answer(catalogue, finished), aims, facts)

        self.work(job, partial(self._show, again), group="club", what="work the club out")

    def _show(self, again: bool, loaded: _Loaded) -> None:
        self._loaded = loaded
        own = loaded.finished
        self.memory.put(_LAST, {"club": own.club, "order": own.order, "line": own.line, "unit": own.unit})
        if not again:
            draft = self.memory.draft(self._draft) or {}
            for name in TOLERANCES:
                self.query_one(f"#value-{name}", Input).value = draft.get(name, "")
        self._write_step()
        for name in TOLERANCES:
            self._judge(name)

    @property
    def _draft(self) -> str:
        own = self._loaded.finished if self._loaded is not None else None
        return "build." + ("" if own is None else f"{own.order}.{own.line}.{own.unit}.{own.club}")

    def action_pick(self) -> None:
        """Choose a club, or scan the code of its build sheet."""
        ask = WordsDialog(
            "Which club?",
            [Wanted("club", "club or code", hint="scan the code, or enter alone for the list")],
        )
        self.app.push_screen(ask, self._picked)

    def _picked(self, typed: Mapping[str, str] | None) -> None:
        if typed is None:
            return
        text = typed.get("club", "").strip().removeprefix(CODE)
        if text:
            self._open(Finished(club=text))
        else:
            self.app.push_screen(Picker("club", title="Which club is built?"), self._chosen)

    def _chosen(self, key: str | None) -> None:
        if key is not None:
            self._open(Finished(club=key))

    # ---- the steps

    def _write_step(self) -> None:
        width = max(self.size.width - 8, 40)
        lines: list[Line] = []
        if self._loaded is None:
            lines += sentence("No club yet: ctrl+n chooses one, or scan the code of its build sheet.", width)
        else:
            sheet = self._loaded.sheet
            order = f", order {sheet.order_ref}" if sheet.order_ref else ""
            lines.append(((f"{sheet.club_id}  ", "head"), (f"{sheet.title}{order}", "quiet")))
            steps = sheet.steps
            step = steps[min(self._step, len(steps) - 1)]
            lines += heading(f"Step {min(self._step, len(steps) - 1) + 1} of {len(steps)}: {step.title}")
            lines += sentence(step.detail[:1].upper() + step.detail[1:], width, part="strong")
            if step.caution:
                lines += sentence(step.caution, width, before=(("Caution: ", "doubt"),))
        self.query_one("#words", Static).update(content(lines))

    def action_forward(self) -> None:
        """The next step."""
        self._go(1)

    def action_backward(self) -> None:
        """The step before."""
        self._go(-1)

    def _go(self, by: int) -> None:
        if self._loaded is not None:
            self._step = min(max(self._step + by, 0), len(self._loaded.sheet.steps) - 1)
            self._write_step()

    def action_sheet(self) -> None:
        """Show the whole build sheet."""
        if self._loaded is not None:
            from specdb.sheets.text import club_text

            text = club_text(self._loaded.sheet, 88)
            self.app.push_screen(LinesDialog("Build sheet", [((line, "plain"),) for line in text.splitlines()]))

    # ---- the measurements

    def action_measure(self) -> None:
        """Go to the first entry that is empty."""
        entries = [self.query_one(f"#value-{name}", Input) for name in TOLERANCES]
        self.set_focus(next((e for e in entries if not e.value), entries[0]))

    @on(Input.Changed)
    def _typed(self, message: Input.Changed) -> None:
        name = (message.input.id or "").removeprefix("value-")
        if name in TOLERANCES and self._loaded is not None:
            self._judge(name)
            self.memory.keep_draft(self._draft, self._values())

    def _values(self) -> dict[str, str]:
        found = {name: self.query_one(f"#value-{name}", Input).value.strip() for name in TOLERANCES}
        return {name: text for name, text in found.items() if text}

    def _judge(self, name: str) -> None:
        loaded = self._loaded
        if loaded is None:
            return
        said = self.query_one(f"#said-{name}", Static)
        width = max(said.content_size.width or self.size.width - 50, 20)
        text = self.query_one(f"#value-{name}", Input).value.strip()
        lines: list[Line]
        if not text:
            lines = self._before(name, width)
        else:
            try:
                found = judge(name, parse_built(name, text), loaded.aims[name], loaded.facts)
            except (FieldError, UnitError) as error:
                lines = sentence(str(error), width, part="bad")
            else:
                word = str(found.judgement).replace("_", " ")
                lines = sentence(f"{word}: {found.said}", width, part=_PARTS.get(found.judgement, "quiet"))
                if found.advice:
                    lines += sentence(f"{found.advice[:1].upper()}{found.advice[1:]}.", width)
        said.update(content(lines))

    def _before(self, name: str, width: int) -> list[Line]:
        """What an empty entry says: what is kept already, else what is wanted."""
        loaded = self._loaded
        if loaded is None:
            return []
        kept = next((j for j in loaded.answer.judged if j.quantity == name), None)
        if kept is not None:
            word = str(kept.judgement).replace("_", " ")
            return sentence(f"kept: {word}, {kept.said}", width, part="quiet")
        aim = loaded.aims[name].target
        if aim is None:
            return sentence("nothing is known to hold it against", width, part="quiet")
        need = "" if TOLERANCES[name].required else ", if asked"
        return sentence(f"wanted {_shown(name, aim)} {TOLERANCES[name].said}{need}", width, part="quiet")

    def action_keep(self) -> None:
        """Keep all values that are typed."""
        self._keep({})

    def _keep(self, waived: Mapping[str, str]) -> None:
        loaded = self._loaded
        if loaded is None:
            return
        try:
            values = {name: parse_built(name, text) for name, text in self._values().items() if name not in waived}
        except (FieldError, UnitError) as error:
            self.app.notify(str(error), severity="error", markup=False)
            return
        catalogue, finished = self.desk.catalogue, loaded.finished
        self.work(
            lambda: built(catalogue, finished, values, waived=waived),
            self._kept,
            group="keep",
            what="keep the measurements",
            changes=True,
        )

    def _kept(self, answer: BuiltAnswer) -> None:
        self.memory.drop_draft(self._draft)
        for name in TOLERANCES:
            self.query_one(f"#value-{name}", Input).value = ""
        wanted = ", ".join(TOLERANCES[q].title for q in answer.wanted)
        told = "Done: every value is in." if answer.done else f"Kept. Still wanted: {wanted}."
        self.app.notify(told, markup=False)
        self._open(answer.finished, again=True)

    def action_waive(self) -> None:
        """Say why a quantity is not measured."""
        focused = self.focused
        name = (focused.id or "").removeprefix("value-") if isinstance(focused, Input) else ""
        if self._loaded is None or name not in TOLERANCES:
            self.app.notify("Go to the entry of what is not measured first.")
            return
        ask = WordsDialog(f"Why is the {TOLERANCES[name].title} not measured?", [Wanted("why", "because")])
        self.app.push_screen(ask, partial(self._waived, name))

    def _waived(self, name: str, typed: Mapping[str, str] | None) -> None:
        why = "" if typed is None else typed.get("why", "").strip()
        if why:
            self._keep({name: why})

    def action_bias(self) -> None:
        """How finished clubs come out."""
        from specdb.verbs.as_built import bias

        catalogue = self.desk.catalogue
        self.work(lambda: bias(catalogue), self._biased, group="bias", what="sum the clubs up")

    def _biased(self, answer: BiasAnswer) -> None:
        lines: list[Line] = []
        for found in (*answer.all, *answer.by_instrument):
            mark = "  more than chance" if found.found else ""
            with_it = f" with {found.instrument}" if found.instrument else ""
            text = f"{TOLERANCES[found.quantity].title}{with_it}: {found.mean:+.2f} ± {found.mean_sd:.2f}"
            lines += sentence(f"{text} over {found.count} clubs{mark}", 88, part="strong" if mark else "plain")
        none = sentence("No finished club has been measured yet.", 88)
        self.app.push_screen(LinesDialog("Measured less predicted", lines or none))

    def action_back(self) -> None:
        """Leave the entries, else go back."""
        if isinstance(self.focused, Input):
            self.set_focus(None)
        else:
            super().action_back()


def _shown(name: str, value: float) -> str:
    from specdb.mechanics import swingweight
    from specdb.units import unit_label
    from specdb.units.writing import to_sixteenths

    if name == "swingweight":
        return swingweight.from_moment_in_oz(value)
    if name == "length":
        return to_sixteenths(value)
    return f"{value:.1f} {unit_label(TOLERANCES[name].unit)}"
