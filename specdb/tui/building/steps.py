"""The steps of the work, one at a time and large: cautions first, then the dimension, then what is done."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.message import Message
from textual.widgets import Static

from specdb.sheets.content import MEASURED, RAW_WEIGHT
from specdb.tui.building.log import mark_of
from specdb.tui.building.print import large
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.prose import Line, sentence
from specdb.tui.widgets.words import day
from specdb.units.writing import as_sentence, begun

if TYPE_CHECKING:
    from specdb.sheets.content import ClubSheet, Figure, WorkStep
    from specdb.tui.building.log import Work

NOT_WEIGHED: Line = (
    ("Raw shaft: not weighed yet. ", "doubt"),
    ("w", "key"),
    (" takes down what the scale shows.", "plain"),
)
_TALL = 36  # lines of a screen from which figures are drawn at twice the size
_BESIDE = 3


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of the club beyond the ticks.

    Attributes
    ----------
    measured : bool
        Whether every measurement is in or waived.
    raw : str
        What its raw shaft was found to weigh, in a sentence; empty where it was not weighed.
    raw_fits : bool
        Whether that is as expected.
    """

    measured: bool = False
    raw: str = ""
    raw_fits: bool = True


class StepScroll(VerticalScroll, inherit_bindings=False):
    """Lines that scroll up and down; left and right are the steps'."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "scroll_up", show=False),
        Binding("down", "scroll_down", show=False),
        Binding("pageup", "page_up", show=False),
        Binding("pagedown", "page_down", show=False),
    ]

    class Sized(Message):
        """There is more room for lines, or less."""

    def on_resize(self) -> None:
        """Say so."""
        self.post_message(self.Sized())


class StepsPane(Vertical):
    """The step one is at."""

    DEFAULT_CSS = """
    StepsPane { height: 1fr; background: $surface; }
    StepsPane StepScroll { height: 1fr; padding: 0 2; scrollbar-size-vertical: 1; background: $surface; }
    StepsPane #step-more { height: 1; padding: 0 2; background: $panel; color: $warning; text-style: bold; }
    """

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 (as Textual's)
        super().__init__(id=id)
        self._warned: list[int] = []  # lines that belong to a caution

    def compose(self) -> ComposeResult:
        """The step, and what of it is out of sight."""
        with StepScroll():
            yield LinesView(id="step-lines")
        yield Static("", id="step-more", markup=False)

    def on_mount(self) -> None:
        """Say what is out of sight whenever that changes."""
        scroll = self.query_one(StepScroll)
        for name in ("scroll_y", "virtual_size"):
            self.watch(scroll, name, self._say_more_soon, init=False)

    @on(StepScroll.Sized)
    def _say_more_soon(self) -> None:
        # asked for in the middle of laying out, which must come to its end first
        self.call_after_refresh(self._say_more)

    def show(self, sheet: ClubSheet, work: Work, *, said: Sequence[str] = (), standing: Standing) -> None:
        """Show the step one is at.

        Parameters
        ----------
        sheet : ClubSheet
            The sheet of the club.
        work : Work
            How far it has come.
        said : sequence of str
            What must be known before anything, in plain sentences.
        standing : Standing
            What is known of the club beyond the ticks.
        """
        scroll = self.query_one(StepScroll)
        width = max(scroll.size.width - 5, 36)
        twice = self.screen.size.height >= _TALL
        lines, self._warned = step_lines(sheet, work, width, said=said, twice=twice, standing=standing)
        self.query_one("#step-lines", LinesView).show(lines)
        self.call_after_refresh(self._say_more)

    def say(self, lines: Sequence[Line]) -> None:
        """Show lines in place of a step.

        Parameters
        ----------
        lines : sequence of Line
            The lines.
        """
        self._warned = []
        self.query_one("#step-lines", LinesView).show(lines)
        self.call_after_refresh(self._say_more)

    def to_top(self) -> None:
        """Begin to read at the top."""
        self.query_one(StepScroll).scroll_home(animate=False)

    @property
    def unread(self) -> int:
        """Lines below that were not seen yet."""
        scroll = self.query_one(StepScroll)
        return max(int(scroll.max_scroll_y - scroll.scroll_y), 0)

    def read_on(self) -> None:
        """Show the lines below."""
        self.query_one(StepScroll).scroll_page_down(animate=False)
        self.call_after_refresh(self._say_more)

    def _say_more(self) -> None:
        scroll = self.query_one(StepScroll)
        if scroll.virtual_size.height <= self.size.height:  # all of it has room without this line
            below = top = 0
        else:
            below, top = self.unread, int(scroll.scroll_y)
        shown = scroll.virtual_size.height - below
        texts = []
        if below:
            caution = ", among them a CAUTION" if any(line >= shown for line in self._warned) else ""
            texts.append(f"▼ {below} more line{'s' if below > 1 else ''} below{caution}: space reads on")
        if top:
            caution = ", a caution among them" if any(line < top for line in self._warned) else ""
            texts.append(f"▲ {top} above{caution}")
        more = self.query_one("#step-more", Static)
        more.display = bool(texts)
        more.update("   ".join(texts))


def step_lines(
    sheet: ClubSheet,
    work: Work,
    width: int,
    *,
    said: Sequence[str] = (),
    twice: bool = False,
    standing: Standing = Standing(),
) -> tuple[list[Line], list[int]]:
    """A step in lines, and which of them belong to a caution.

    Parameters
    ----------
    sheet : ClubSheet
        The sheet of the club.
    work : Work
        How far it has come.
    width : int
        Columns.
    said : sequence of str
        What must be known before anything, in plain sentences.
    twice : bool
        Whether figures are drawn at twice the size.
    standing : Standing
        What is known of the club beyond the ticks.
    """
    steps = sheet.steps
    number = min(work.at, len(steps) - 1)
    step = steps[number]
    lines: list[Line] = [_title(step, number, len(steps), work, width, measured=standing.measured), ()]
    warned: list[int] = []
    for text in said:
        warned += _added(lines, sentence(text, width, before=(("! ", "bad"),), part="bad"))
    for i, text in enumerate(step.hazards):
        before = (("CAUTION  ", "doubt"),) if i == 0 else (("         ", "plain"),)
        warned += _added(lines, sentence(text, width, before=before, part="strong"))
    if step.hazards or said:
        lines.append(())
    lines += _figures(step.figures, width, twice=twice)
    if step.asks == RAW_WEIGHT:
        lines += _weighed(standing, width)
    lines += sentence(begun(step.detail), width, part="strong")
    lines += _parts(sheet, step, width)
    if number == 0 and sheet.notes:
        lines.append(())
        for note in sheet.notes:
            lines += sentence(as_sentence(note), width, before=(("Note  ", "quiet"),), part="plain")
    if number + 1 < len(steps):
        lines += [(), (("Then: ", "quiet"), (steps[number + 1].title, "quiet"))]
    return lines, warned


def _added(lines: list[Line], more: list[Line]) -> list[int]:
    first = len(lines)
    lines += more
    return list(range(first, len(lines)))


def _weighed(standing: Standing, width: int) -> list[Line]:
    if not standing.raw:
        return [NOT_WEIGHED]
    mark, part = ("✓ ", "good") if standing.raw_fits else ("! ", "bad")
    return sentence(as_sentence(standing.raw), width, before=((mark, part),), part=part)


def _title(step: WorkStep, number: int, count: int, work: Work, width: int, *, measured: bool) -> Line:
    when = work.done.get(mark_of(step))
    left = f"{number + 1} of {count}  "
    right = "" if when is None else f"✓ done {_clock(when)}"
    if step.asks == MEASURED:  # a tick alone measures nothing
        right = "" if not measured else right or "✓ done"
    title = step.title.upper()
    return (
        (left, "quiet"),
        (title, "head"),
        (" " * max(width - len(left) - len(title) - len(right), 2), "plain"),
        (right, "good"),
    )


def _clock(when: str) -> str:
    moment = dt.datetime.fromisoformat(when).astimezone()
    today = dt.datetime.now(dt.UTC).astimezone().date()
    return f"{moment:%H:%M}" if moment.date() == today else f"{day(moment)}, {moment:%H:%M}"


def _figures(figures: Sequence[Figure], width: int, *, twice: bool) -> list[Line]:
    """The dimensions side by side, one under the other where there is no room."""
    blocks = [_block(f, twice=twice) for f in figures]
    if sum(len(b[0]) for b in blocks) + _BESIDE * (len(blocks) - 1) > width and twice:
        blocks = [_block(f, twice=False) for f in figures]
    rows: list[list[list[str]]] = []
    for block in blocks:
        used = sum(len(b[0]) + _BESIDE for b in rows[-1]) if rows else width
        if rows and used + len(block[0]) <= width:
            rows[-1].append(block)
        else:
            rows.append([block])
    lines: list[Line] = []
    for row in rows:
        # those beside each other are of one size, so of one number of lines
        lines += [(((" " * _BESIDE).join(texts), "head"),) for texts in zip(*row, strict=True)]
        lines.append(())
    return lines


def _block(figure: Figure, *, twice: bool) -> list[str]:
    value, _, unit = figure.value.rpartition(" ")
    if not value:
        value, unit = figure.value, ""
    print_ = large(value, twice=twice)
    beside = [""] * (len(print_) - 2) + [unit, f"= {figure.other}" if figure.other else ""]
    if not figure.other:
        beside = [""] * (len(print_) - 1) + [unit]
    lines = [f"{text} {more}" for text, more in zip(print_, beside, strict=True)]
    lines.append(figure.where)
    widest = max(map(len, lines))
    return [f"{line:<{widest}}" for line in lines]


def _parts(sheet: ClubSheet, step: WorkStep, width: int) -> list[Line]:
    """The parts that the step takes, with their places on the shelf."""
    parts = [p for p in sheet.parts if p.kind in step.part_kinds]
    if not parts:
        return []
    lines: list[Line] = [()]
    for p in parts:
        booked = p.on_hand != "not booked"
        place = p.place if p.place not in ("", "-") else "no place is known"
        none = booked and p.on_hand.lstrip("-") == "0"
        where = "NONE ON HAND" if none else f"{place}, {p.on_hand} on hand" if booked else "not booked"
        note = f"; {p.note}" if p.note else ""
        part = "bad" if none else "plain"
        lines += sentence(f"{p.item_id}: {where}{note}", width, before=((f"{p.kind:<9}", "quiet"),), part=part)
    return lines
