"""Curves on the screen, drawn again at every size."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip
from textual.widget import Widget

from specdb.tui.widgets.curves import Axis, Curve, Mark, Picture, draw

_NONE = Axis(0.0, 0.0)
_LEAST_WIDTH, _LEAST_HEIGHT = 24, 7


def without_braille() -> bool:
    """Whether the terminal is one whose letters have no braille signs: the console of Linux itself."""
    return os.environ.get("TERM", "") == "linux"


class CurvesView(Widget):
    """Several curves with bands over one another; a sentence where there is nothing to draw.

    Every segment has a style, so that the picture is whole without colour too; curves are told apart by their stroke
    and their label.
    """

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "curves--axis",
        "curves--label",
        "curves--mark",
        "curves--first",
        "curves--second",
        "curves--several",
        "curves--band",
    }
    DEFAULT_CSS = """
    CurvesView { height: 1fr; min-height: 7; background: $background; color: $foreground; }
    CurvesView > .curves--axis { color: $quiet; }
    CurvesView > .curves--label { color: $foreground; text-style: bold; }
    CurvesView > .curves--mark { color: $foreground; text-style: bold; }
    CurvesView > .curves--first { color: $foreground; }
    CurvesView > .curves--second { color: $accent; }
    CurvesView > .curves--several { color: $foreground; text-style: bold; }
    CurvesView > .curves--band { color: $quiet; }
    """

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002 (as Textual's)
        super().__init__(id=id, classes=classes)
        self._curves: tuple[Curve, ...] = ()
        self._marks: tuple[Mark, ...] = ()
        self._axes: tuple[Axis, Axis] = (_NONE, _NONE)
        self._said = ""
        self._drawn: tuple[tuple[int, int], Picture] | None = None

    def show(self, curves: Sequence[Curve], marks: Sequence[Mark] = (), *, x: Axis = _NONE, y: Axis = _NONE) -> None:
        """Draw curves.

        Parameters
        ----------
        curves : sequence of Curve
            The curves.
        marks : sequence of Mark
            Readings on the picture.
        x, y : Axis
            What the axes show; their ends are worked out where they are equal.
        """
        self._curves, self._marks, self._axes = tuple(curves), tuple(marks), (x, y)
        self._said = ""
        self._drawn = None
        self.refresh()

    def say(self, text: str) -> None:
        """Show a sentence in place of curves.

        Parameters
        ----------
        text : str
            The sentence.
        """
        self._curves, self._said, self._drawn = (), text, None
        self.refresh()

    @property
    def text(self) -> str:
        """What is shown, as plain text."""
        picture = self._picture()
        return self._said if picture is None else picture.text

    def _picture(self) -> Picture | None:
        size = (max(self.size.width, _LEAST_WIDTH), max(self.size.height, _LEAST_HEIGHT))
        if not self._curves:
            return None
        if self._drawn is None or self._drawn[0] != size:
            x, y = self._axes
            picture = draw(self._curves, self._marks, width=size[0], height=size[1], x=x, y=y, plain=without_braille())
            self._drawn = (size, picture)
        return self._drawn[1]

    def render_line(self, y: int) -> Strip:
        """One line of the picture.

        Parameters
        ----------
        y : int
            Line, from the top.
        """
        width, ground = self.size.width, self.rich_style
        picture = self._picture()
        if picture is None:
            text = self._said if y == 0 else ""
            return Strip([Segment(text[:width].ljust(width), ground)], width)
        if y >= len(picture.rows):
            return Strip([Segment(" " * width, ground)], width)
        segments = [Segment(text, self._style(part, ground)) for text, part in picture.rows[y]]
        return Strip(segments).adjust_cell_length(width, ground)

    def _style(self, part: str, ground: Style) -> Style:
        name = part.rstrip("0123456789")
        if name == "curve":
            name = "first" if part == "curve0" else "second"
        elif name == "label" and part not in ("label", "label0"):
            name = "second"
        return ground if name == "blank" else self.get_component_rich_style(f"curves--{name}")
