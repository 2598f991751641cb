"""What every report is made of: typed lines, the columns they are shown in, and sentences."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Protocol


class Line(Protocol):
    """A line of a report: a small frozen record with the fields that its columns name."""

    __dataclass_fields__: Any


@dataclass(frozen=True, slots=True)
class ReportColumn:
    """A column of a report.

    Attributes
    ----------
    name : str
        Field of the line; the heading in a file.
    title : str
        Heading in front of a person, with the unit.
    number : bool
        Whether it holds numbers.
    decimals : int or None
        Decimals of a number; as many as needed where None.
    keep : bool
        Whether it is shown even where there is no room.
    wraps : bool
        Whether a cell may be broken over lines.
    signed : bool
        Whether a number is a difference, shown with its sign.
    """

    name: str
    title: str
    number: bool = False
    decimals: int | None = None
    keep: bool = False
    wraps: bool = False
    signed: bool = False


@dataclass(frozen=True, slots=True)
class Report:
    """A report.

    Attributes
    ----------
    name, title : str
        Short name, and heading.
    day : date
        Day it is of.
    columns : tuple of ReportColumn
        Its columns.
    lines : tuple of Line
        Its lines, the most urgent first.
    said : tuple of str
        What must be known to read it, in plain sentences.
    further : tuple of str
        What explains it beside, where there is room.
    nothing : str
        What is said where it has no line.
    more : mapping of str to (sequence of Line)
        Further lines that its pictures are drawn from.
    """

    name: str
    title: str
    day: dt.date
    columns: tuple[ReportColumn, ...]
    lines: tuple[Any, ...]
    said: tuple[str, ...] = ()
    nothing: str = "Nothing to report."
    more: dict[str, tuple[Any, ...]] = field(default_factory=dict)
    further: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The report as plain values."""
        further = {name: [asdict(line) for line in lines] for name, lines in self.more.items()}
        lines = [asdict(line) for line in self.lines]
        return {"report": self.name, "day": self.day, "lines": lines, **further, "said": [*self.said, *self.further]}

    def cells(self, line: Any) -> list[object]:  # noqa: ANN401 (a line of this report)
        """Values of a line, in the order of the columns.

        Parameters
        ----------
        line : Line
            One of its lines.
        """
        return [_plain(getattr(line, column.name)) for column in self.columns]


def _plain(value: object) -> object:
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(str(v) for v in value)
    return value


def shown(column: ReportColumn, value: object) -> str:
    """A value as text, as its column wants it; empty where unknown.

    Parameters
    ----------
    column : ReportColumn
        The column.
    value : object
        The value.
    """
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else ""
    if column.number and isinstance(value, (int, float)):
        if isinstance(value, float) and value != value:  # noqa: PLR0124 (NaN)
            return ""
        sign = "+" if column.signed else ""
        return f"{value:{sign}.{column.decimals}f}" if column.decimals is not None else f"{value:{sign}g}"
    return str(value).replace("_", " ") if column.name == "state" else str(value)
