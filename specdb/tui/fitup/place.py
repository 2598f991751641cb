"""The place Fit-up: does this tip go in this bore; drawn to scale, judged again at every change of a length."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.events import Click, Resize
from textual.message import Message
from textual.widgets import Static

from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.dialogs.picker import Picker
from specdb.tui.fitup.asked import (
    INSERTION_FINE_IN,
    INSERTION_STEP_IN,
    TRIM_FINE_IN,
    TRIM_STEP_IN,
    from_memory,
    to_memory,
    with_insertion,
    with_part,
    with_trim,
)
from specdb.tui.fitup.header import STEPS, asked_lines, part_at
from specdb.tui.widgets.prose import Line, content, sentence
from specdb.units.writing import begun
from specdb.verbs.clubs.clubs import ClubRequest

if TYPE_CHECKING:
    from specdb.fitup.report import FitReport
    from specdb.tui.fitup.tip_scene import Scene
    from specdb.verbs.clubs.fitup import FitInputs

_ASKED = "fitup.asked"
WIDE_COLUMNS = 150  # from here on the report stands beside the drawing
_NOTHING = (
    "Choose a shaft (s) and a head (h), or take both from a fitted club (c). The tip is then held against the bore, "
    "at any tip trim and insertion."
)


@dataclass(frozen=True, slots=True)
class Judged:
    """A build, judged, and what there is to draw of it.

    Attributes
    ----------
    inputs : FitInputs
        The build.
    report : FitReport
        What came of it.
    scene, prepared_scene : Scene or str
        What is drawn, as asked and with the preparation done; a sentence where nothing can be.
    """

    inputs: FitInputs
    report: FitReport
    scene: Scene | str
    prepared_scene: Scene | str | None


def judge(inputs: FitInputs) -> Judged:
    """Judge a build.

    Parameters
    ----------
    inputs : FitInputs
        The build.
    """
    from specdb.tui.fitup.tip_scene import scene_of

    report = inputs.report()
    prepared = None if report.prepared is None else scene_of(report.prepared)
    return Judged(inputs, report, scene_of(inputs.question), prepared)


class AskedLines(Static):
    """The parts and lengths that are asked about; each may be clicked."""

    class PartClicked(Message):
        """A part or length was clicked."""

        def __init__(self, what: str) -> None:
            super().__init__()
            self.what = what

    def __init__(self) -> None:
        super().__init__("", id="asked")
        self.lines: list[Line] = []

    def show(self, lines: list[Line]) -> None:
        """Show the lines."""
        self.lines = lines
        self.update(content(lines))

    def on_click(self, event: Click) -> None:
        """Tell which part was clicked."""
        at = event.offset - self.content_offset
        what = part_at(self.lines, at.x, at.y)
        if what:
            self.post_message(self.PartClicked(what))


class FitUpScreen(PlaceScreen):
    """Tip, bore and what must be done first."""

    place = "fitup"
    ACTIONS = (
        Action("trim(-1)", "left,minus", "less trim", "A quarter inch less tip trim."),
        Action("trim(1)", "right,plus,equals_sign", "more", "A quarter inch more tip trim."),
        Action("fine(-1)", "shift+left,comma", "fine less", "A sixteenth less tip trim.", shown=False),
        Action("fine(1)", "shift+right,full_stop", "fine more", "A sixteenth more tip trim.", shown=False),
        Action("insert(-1)", "left_square_bracket", "shallower", "A sixteenth shallower insertion."),
        Action("insert(1)", "right_square_bracket", "deeper", "A sixteenth deeper insertion."),
        Action("insert_fine(-1)", "left_curly_bracket", "", "A sixty-fourth shallower insertion.", shown=False),
        Action("insert_fine(1)", "right_curly_bracket", "", "A sixty-fourth deeper insertion.", shown=False),
        Action("pick('shaft')", "s", "shaft", "Choose the shaft."),
        Action("pick('head')", "h", "head", "Choose the head; an adapter that goes with it is taken too."),
        Action("pick('club')", "c", "club", "Take every part from a fitted club."),
        Action("prepared", "p", "prepared", "Draw and judge it with the preparation done, or as asked."),
        Action("pick('adapter')", "a", "adapter", "Choose the adapter.", shown=False),
        Action("setting", "e", "setting", "Go to the next setting of the adapter.", shown=False),
        Action("pick('sleeve')", "v", "sleeve", "Choose a sleeve.", shown=False),
        Action("pick('ferrule')", "f", "ferrule", "Choose a ferrule.", shown=False),
        Action("pick('adhesive')", "g", "adhesive", "Choose the adhesive; its own limits of the gap are taken.",
               shown=False),
        Action("without('adapter')", "A", "no adapter", "Leave the adapter out.", shown=False),
        Action("without('sleeve')", "V", "no sleeve", "Leave the sleeve out.", shown=False),
        Action("without('ferrule')", "F", "no ferrule", "Leave the ferrule out.", shown=False),
        Action("without('adhesive')", "G", "no adhesive", "Leave the adhesive out.", shown=False),
        Action("type_trim", "t", "type trim", "Type the tip trim, such as 1 1/4 or 30 mm.", shown=False),
        Action("type_insertion", "i", "type insertion", "Type the insertion; empty is the full bore depth.",
               shown=False),
        Action("figures", "d", "figures", "Show every figure of every check, or only the sentences.", shown=False),
        Action("standins", "n", "stand-ins", "Look for stand-ins for the club these parts came from.", shown=False),
        Action("back", "escape", "back", "Go back.", shown=False),
    )  # fmt: skip
    DEFAULT_CSS = """
    FitUpScreen #asked { height: auto; padding: 0 1; background: $surface; }
    FitUpScreen #verdict { height: 2; padding: 0 1; background: $surface; }
    FitUpScreen #body { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    FitUpScreen #drawing { height: auto; width: auto; }
    FitUpScreen #report { height: auto; }
    FitUpScreen.wide #body { layout: horizontal; }
    FitUpScreen.wide #report { width: 1fr; padding-left: 3; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.asked = ClubRequest()
        self.judged: Judged | None = None
        self.said: list[str] = []
        self._prepared = False
        self._figures = False
        self._opened = False

    def compose(self) -> ComposeResult:
        """What is asked, the verdict, the drawing and the report."""
        yield AskedLines()
        yield Static("", id="verdict")
        with VerticalScroll(id="body"):
            yield Static("", id="drawing")
            yield Static("", id="report")

    def on_mount(self) -> None:
        """Take up what was asked last."""
        self.query_one("#body").focus()
        if not self._opened:
            self.asked = from_memory(self.memory.get(_ASKED, {}))
            self._ask()

    def opened(self, **arguments: Any) -> None:  # noqa: ANN401 (as the place screen's)
        """Ask about other parts.

        Parameters
        ----------
        **arguments
            Fields of a :class:`ClubRequest`, such as ``club`` or ``shaft``, ``head`` and ``tip_trim_in``.
        """
        if arguments:
            self._opened = True
            self.said = []
            self._prepared = False
            self._ask_for(ClubRequest(**arguments))

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the place screen's)
        """Judge again with what the catalogue says now."""
        self._ask()

    @on(Resize)
    def _resized(self) -> None:
        self.set_class(self.size.width >= WIDE_COLUMNS, "wide")
        self.call_after_refresh(self._show)

    # ---- asking

    def _ask_for(self, asked: ClubRequest) -> None:
        """Ask about other parts; what a club says is taken over from it."""
        self.asked = asked
        self._ask()

    def _ask(self) -> None:
        asked = self.asked
        if asked.club is None and (asked.shaft is None or asked.head is None):
            self.drop("judge")
            self.judged = None
            self._show()
            return
        self._show_asked()
        self.work(partial(self._read, asked), self._take, group="judge", what="judge the fit", failed=self._failed)

    def _read(self, asked: ClubRequest) -> tuple[ClubRequest, list[str], Judged]:
        from specdb.verbs.clubs.fitup import adapter_for, fit_inputs

        catalogue = self.desk.catalogue
        inputs = fit_inputs(catalogue, asked)
        said = list(inputs.club.said)
        found = inputs.club.request
        if found.adapter is None and inputs.question.head.connection:
            adapter = adapter_for(inputs)
            if adapter is not None:
                found = replace(found, adapter=adapter.id)
                inputs = fit_inputs(catalogue, replace(found, club=None))
                said.append(f"adapter {adapter.id} taken: it has the connection of the head")
        return found, said, judge(inputs)

    def _take(self, found: tuple[ClubRequest, list[str], Judged]) -> None:
        asked, said, judged = found
        # from now on the parts are asked about, so that a change of the club's record does not undo a choice here
        self.asked = replace(asked, club=None)
        if asked.club is not None:
            self.memory.put("fitup.club", asked.club)
        self.said = said or self.said
        self._remember_and_show(judged)

    def _remember_and_show(self, judged: Judged) -> None:
        self.judged = judged
        self.memory.put(_ASKED, to_memory(self.asked))
        if judged.prepared_scene is None:
            self._prepared = False
        self._show()

    def _failed(self, error: Exception) -> None:
        self.judged = None
        text = str(error)
        said = f"{begun(text)}{'' if text.endswith(('.', '!', '?')) else '.'}"
        self.query_one("#verdict", Static).update(content(sentence(said, self._width)))
        for name in ("#drawing", "#report"):
            self.query_one(name, Static).update("")
        self._show_asked()

    def _change(self, asked: ClubRequest) -> None:
        """Another trim or insertion: judged again without reading the catalogue."""
        if asked == self.asked or self.judged is None:
            return
        self.asked = asked
        self._show_asked()
        inputs = self.judged.inputs.changed(tip_trim_in=asked.tip_trim_in or 0.0, insertion_in=asked.insertion_in)
        self.work(
            lambda: judge(inputs), self._remember_and_show, group="judge", what="judge the fit", failed=self._failed
        )

    # ---- showing

    @property
    def _width(self) -> int:
        return max(self.size.width - 2, 40)

    def _show_asked(self) -> None:
        question = None if self.judged is None else self.judged.inputs.question
        full = None if self.judged is None else self._full_depth()
        self.query_one(AskedLines).show(asked_lines(self.asked, question, full, self._width))

    def _full_depth(self) -> float | None:
        from specdb.fitup.hole import hole_of

        if self.judged is None:
            return None
        question = self.judged.inputs.question
        return hole_of(question.head, question.adapter, question.limits).depth_in

    def _show(self) -> None:
        from specdb.tui.fitup.words import report_lines, verdict_line

        self._show_asked()
        verdict, drawing, report = (self.query_one(n, Static) for n in ("#verdict", "#drawing", "#report"))
        judged = self.judged
        if judged is None:
            verdict.update("")
            drawing.update(content(sentence(_NOTHING, self._width)))
            report.update("")
            return
        verdict.update(content(verdict_line(judged.report, self._width)))
        wide = self.size.width >= WIDE_COLUMNS
        scene = judged.prepared_scene if self._prepared and judged.prepared_scene is not None else judged.scene
        drawn = self._drawn(scene, wide=wide)
        drawing.update(content(drawn))
        used = max((sum(len(text) for text, _ in line) for line in drawn), default=0)
        width = self._width - 2 - (used + 3 if wide else 0)
        lines = report_lines(judged.report, max(width, 30), prepared=self._prepared, figures=self._figures)
        notes = [line for text in self.said for line in sentence(f"{begun(text)}.", width, part="quiet")]
        gap: list[Line] = [(("", "plain"),)]
        report.update(content([*([] if wide else gap), *notes, *(gap if notes else []), *lines]))

    def _drawn(self, scene: Scene | str, *, wide: bool) -> list[Line]:
        from specdb.tui.fitup.tip_in_bore import draw

        columns = self._width - 2
        if isinstance(scene, str):
            return sentence(scene, min(columns, 76))
        room = self.query_one("#body").size.height or 16
        height = room if wide else min(max(room - 3, 13), 24)
        lines: list[Line] = [
            tuple((run.text, run.role) for run in line) for line in draw(scene, min(columns, 90), height).lines
        ]
        if self._prepared:
            lines[0] = (
                ("PREPARED", "doubt"),
                *((text[8:] if i == 0 else text, p) for i, (text, p) in enumerate(lines[0])),
            )
        return lines

    # ---- actions

    def action_trim(self, sign: int) -> None:
        """A quarter inch more or less tip trim."""
        self._change(with_trim(self.asked, sign * TRIM_STEP_IN))

    def action_fine(self, sign: int) -> None:
        """A sixteenth more or less tip trim."""
        self._change(with_trim(self.asked, sign * TRIM_FINE_IN))

    def action_insert(self, sign: int) -> None:
        """A sixteenth deeper or shallower."""
        self._change(with_insertion(self.asked, sign * INSERTION_STEP_IN, self._full_depth()))

    def action_insert_fine(self, sign: int) -> None:
        """A sixty-fourth deeper or shallower."""
        self._change(with_insertion(self.asked, sign * INSERTION_FINE_IN, self._full_depth()))

    def action_pick(self, kind: str) -> None:
        """Choose a part."""
        where = None
        if kind == "adapter" and self.judged is not None and self.judged.inputs.question.head.connection:
            where = f"connection = '{self.judged.inputs.question.head.connection}'"
        self.app.push_screen(Picker(kind, where=where), partial(self._picked, kind))

    def _picked(self, kind: str, key: str | None) -> None:
        if key is None:
            return
        self.said = []
        if kind == "club":
            self._ask_for(ClubRequest(club=key))
        else:
            self._ask_for(with_part(self.asked, kind, key))

    def action_without(self, kind: str) -> None:
        """Leave a part out."""
        if getattr(self.asked, kind) is not None:
            self.said = []
            self._ask_for(with_part(self.asked, kind, None))

    def action_setting(self) -> None:
        """Go to the next setting of the adapter."""
        settings = () if self.judged is None else self.judged.inputs.question.settings
        names = [None, *(s.setting for s in settings)]
        if len(names) == 1:
            self.notify("There is no adapter with settings here.")
            return
        at = names.index(self.asked.setting) if self.asked.setting in names else 0
        self._ask_for(replace(self.asked, setting=names[(at + 1) % len(names)]))

    def action_prepared(self) -> None:
        """Draw it with the preparation done, or as asked."""
        if self.judged is None or self.judged.prepared_scene is None:
            self.notify("There is no preparation to show.")
            return
        self._prepared = not self._prepared
        self._show()

    def action_figures(self) -> None:
        """Show every figure, or only the sentences."""
        self._figures = not self._figures
        self._show()

    def action_type_trim(self) -> None:
        """Type the tip trim."""
        self._type("tip_trim_in", "Tip trim")

    def action_type_insertion(self) -> None:
        """Type the insertion."""
        self._type("insertion_in", "Insertion")

    def _type(self, field: str, title: str) -> None:
        from specdb.tui.dialogs.quantity import TypeDialog

        if self.judged is None:
            return
        now = getattr(self.asked, field)
        self.app.push_screen(
            TypeDialog("club", field, title, "" if now is None else f"{now:g}"), partial(self._typed, field)
        )

    def _typed(self, field: str, found: tuple[float | None] | None) -> None:
        if found is not None:
            changes: dict[str, Any] = {field: found[0]}
            self._change(replace(self.asked, **changes))

    def action_standins(self) -> None:
        """Look for stand-ins for the club the parts came from."""
        club = self.memory.get("fitup.club", None)
        if club:
            self.specdb.open_place("standins", club=club)

    @on(AskedLines.PartClicked)
    async def _part_clicked(self, message: AskedLines.PartClicked) -> None:
        if message.what in STEPS:
            await self.run_action(STEPS[message.what])
        elif message.what == "setting":
            self.action_setting()
        elif message.what == "tip trim":
            self.action_type_trim()
        elif message.what == "insertion":
            self.action_type_insertion()
        else:
            self.action_pick(message.what)
