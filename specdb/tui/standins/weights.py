"""Weights and tolerances of the compared features, changed by keys or by typing, in force at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import Click, Key
from textual.message import Message
from textual.widget import Widget

from specdb.tui.widgets.numbers import short
from specdb.tui.widgets.prose import Line, content
from specdb.units.writing import begun

if TYPE_CHECKING:
    from specdb.matching.weighting import Tolerances
    from specdb.verbs.matching.weightings import WeightingLine

UNIT, WEIGHT = 0, 1
_NAME, _CELL = 22, 11
_HEAD = 1
_MOST = (1000.0, 100.0)
_STEP_OF_UNIT = 0.1
_STEP_OF_WEIGHT = 0.25
_TYPED = set("0123456789.,")


@dataclass(slots=True)
class Weights:
    """What counts, and how much, while it is being changed.

    Attributes
    ----------
    name : str
        Of the weighting it began as.
    lines : tuple of WeightingLine
        That weighting, by feature.
    values : list of [unit, weight]
        What is in force now.
    """

    name: str
    lines: tuple[WeightingLine, ...]
    values: list[list[float]]

    @classmethod
    def of(cls, name: str, lines: Sequence[WeightingLine]) -> Weights:
        """A weighting as it is kept.

        Parameters
        ----------
        name : str
            Its name.
        lines : sequence of WeightingLine
            Its lines.
        """
        return cls(name, tuple(lines), [[line.one_unit, line.weight] for line in lines])

    @property
    def changed(self) -> bool:
        """Whether anything differs from the weighting as it is kept."""
        return any(value != [line.one_unit, line.weight] for line, value in zip(self.lines, self.values, strict=True))

    def tolerances(self) -> Tolerances:
        """The same for the search."""
        import numpy as np

        from specdb.matching.weighting import Tolerances

        table = np.array(self.values, dtype=np.float64)
        return Tolerances("own", table[:, UNIT], table[:, WEIGHT])

    def put(self, row: int, column: int, value: float) -> str:
        """Change one; what is wrong with it, in a sentence, or an empty text.

        Parameters
        ----------
        row, column : int
            Feature, and ``UNIT`` or ``WEIGHT``.
        value : float
            The new value.
        """
        title = self.lines[row].title
        if column == UNIT and not 0.0 < value <= _MOST[UNIT]:
            return f"one unit of {title} must be above 0 and at most {_MOST[UNIT]:g}"
        if column == WEIGHT and not 0.0 <= value <= _MOST[WEIGHT]:
            return f"the weight of {title} must be from 0 to {_MOST[WEIGHT]:g}"
        if (
            column == WEIGHT
            and value == 0.0
            and not any(w[WEIGHT] > 0.0 for i, w in enumerate(self.values) if i != row)
        ):
            return "at least one feature must count"
        self.values[row][column] = value
        return ""

    def step(self, row: int, column: int, sign: int) -> str:
        """A step up or down; what is wrong with it, in a sentence, or an empty text.

        Parameters
        ----------
        row, column : int
            Feature, and ``UNIT`` or ``WEIGHT``.
        sign : int
            1 or -1.
        """
        now = self.values[row][column]
        size = _STEP_OF_WEIGHT if column == WEIGHT else _STEP_OF_UNIT * self.lines[row].one_unit
        value = round(now + sign * size, 9)
        if column == WEIGHT:
            value = min(max(value, 0.0), _MOST[WEIGHT])
        elif value <= 0.0:
            return ""
        return self.put(row, column, value)

    def words(self) -> list[str]:
        """As ``field=value``, to be kept under a name."""
        found = []
        for line, (unit, weight) in zip(self.lines, self.values, strict=True):
            found += [f"{line.unit_field}={unit:.9g}", f"{line.weight_field}={weight:.9g}"]
        return found


_HINT = "+ - change; enter types a number; del as it was; k keeps them under a name"


class WeightsPane(Widget, can_focus=True):
    """A table of features with what one unit is and how heavily it counts."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "row(-1)", show=False),
        Binding("down", "row(1)", show=False),
        Binding("left", "column(0)", show=False),
        Binding("right", "column(1)", show=False),
        Binding("plus,equals_sign", "step(1)", show=False),
        Binding("minus", "step(-1)", show=False),
        Binding("delete", "as_kept", show=False),
        Binding("enter", "type", show=False),
    ]
    DEFAULT_CSS = """
    WeightsPane { height: auto; background: $background; color: $foreground; }
    """

    class Changed(Message):
        """Something counts otherwise now."""

        def __init__(self, weights: Weights) -> None:
            super().__init__()
            self.weights = weights

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 (as Textual's)
        super().__init__(id=id)
        self.weights: Weights | None = None
        self._row, self._column = 0, WEIGHT
        self._typed: str | None = None
        self._wrong = ""

    def show(self, weights: Weights) -> None:
        """Show a weighting.

        Parameters
        ----------
        weights : Weights
            The weighting.
        """
        self.weights = weights
        self._typed, self._wrong = None, ""
        self.refresh(layout=True)

    def render(self) -> Content:
        """The table."""
        return content(self._lines())

    def _lines(self) -> list[Line]:
        weights = self.weights
        if weights is None:
            return [(("Loading …", "quiet"),)]
        lines: list[Line] = [
            (("feature".ljust(_NAME) + f"{'one unit':>{_CELL}}      {'weight':>{_CELL}}", "quiet"),),
        ]
        for i, (line, value) in enumerate(zip(weights.lines, weights.values, strict=True)):
            kept = (line.one_unit, line.weight)
            pieces = [(line.title.ljust(_NAME), "plain")]
            for column, unit in ((UNIT, f" {line.unit:<6}"), (WEIGHT, "")):
                here = self.has_focus and (i, column) == (self._row, self._column)
                typing = here and self._typed is not None
                text = f"{self._typed}_" if typing else short(value[column])
                text = f"▸ {text}" if here else text
                changed = value[column] != kept[column]
                part = "head" if here else "strong" if changed else "plain"
                pieces.append((f"{text:>{_CELL}}{unit}", part))
                pieces.append(("*" if changed else " ", "head"))
            if value[WEIGHT] == 0.0:
                pieces.append((" left out", "doubt"))
            lines.append(tuple(pieces))
        state = " *changed, not saved" if weights.changed else ""
        lines.append(((f"Weighting: {weights.name}{state}", "quiet"),))
        if self._wrong:
            lines.append(((f"! {begun(self._wrong)}.", "bad"),))
        else:
            lines.append(((_HINT, "quiet"),))
        return lines

    # ---- keys

    def action_row(self, step: int) -> None:
        """Go to another feature."""
        self._take()
        if self.weights is not None:
            self._row = min(max(self._row + step, 0), len(self.weights.lines) - 1)
        self.refresh()

    def action_column(self, column: int) -> None:
        """Go to the unit or the weight."""
        self._take()
        self._column = column
        self.refresh()

    def action_step(self, sign: int) -> None:
        """A step up or down."""
        self._typed = None
        if self.weights is not None:
            self._put(self.weights.step(self._row, self._column, sign))

    def action_as_kept(self) -> None:
        """The value as the weighting has it."""
        self._typed = None
        if self.weights is not None:
            line = self.weights.lines[self._row]
            kept = line.one_unit if self._column == UNIT else line.weight
            self._put(self.weights.put(self._row, self._column, kept))

    def action_type(self) -> None:
        """Begin to type a number."""
        self._typed, self._wrong = "", ""
        self.refresh()

    def on_key(self, event: Key) -> None:
        """While a number is typed, digits add to it, enter takes it, escape gives it up."""
        if self._typed is None:
            return
        if event.character is not None and event.character in _TYPED:
            self._typed += event.character
        elif event.key == "enter":
            self._take()
        elif event.key == "escape":
            self._typed = None
        elif event.key == "backspace":
            self._typed = self._typed[:-1]
        else:
            return
        event.stop()
        event.prevent_default()
        self.refresh()

    def on_blur(self) -> None:
        """Take what is half typed."""
        self._take()
        self.refresh()

    def on_focus(self) -> None:
        """Show the cursor."""
        self.refresh()

    def on_click(self, event: Click) -> None:
        """Go to what was clicked."""
        if self.weights is None:
            return
        self._take()
        row, column = event.y - _HEAD, UNIT if event.x < _NAME + _CELL + 8 else WEIGHT
        if 0 <= row < len(self.weights.lines):
            again = (row, column) == (self._row, self._column) and event.chain > 1
            self._row, self._column = row, column
            if again:
                self.action_type()
        elif row == len(self.weights.lines) + 1 and not self._wrong:
            self._hint_clicked(event.x)
        self.refresh()

    def _hint_clicked(self, x: int) -> None:
        """Do what the line under the table says, where it was clicked."""
        acts = {"+": lambda: self.action_step(1), "-": lambda: self.action_step(-1), "del": self.action_as_kept}
        for sign, act in acts.items():
            begin = _HINT.index(sign)
            if begin <= x < begin + len(sign) + 1:
                act()

    def _take(self) -> None:
        typed, self._typed = self._typed, None
        if not typed or self.weights is None:
            return
        try:
            value = float(typed.replace(",", "."))
        except ValueError:
            self._wrong = f"'{typed}' is no number"
            return
        self._put(self.weights.put(self._row, self._column, value))

    def _put(self, wrong: str) -> None:
        self._wrong = wrong
        self.refresh()
        if not wrong and self.weights is not None:
            self.post_message(self.Changed(self.weights))
