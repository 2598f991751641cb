"""What stands on a build sheet, as plain values that are ready to be written.

Lengths are given to the thirty-second of an inch and in millimetres; every cut says from which end it is measured.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

RAW_WEIGHT, MEASURED = "raw_weight", "measured"
"""What is written down at a step: the weight of the raw shaft, or all that is measured on the finished club."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part to pull from the shelf.

    Attributes
    ----------
    kind, item_id : str
        What it is.
    name : str
        Maker and model.
    place : str
        Where it lies.
    on_hand : str
        Pieces there, in words.
    note : str
        What is particular about it.
    """

    kind: str
    item_id: str
    name: str
    place: str
    on_hand: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Figure:
    """A dimension or weight of a step, for large print.

    Attributes
    ----------
    value : str
        Number and unit, such as ``1 1/2 in``.
    other : str
        The same in another unit; empty where there is none.
    where : str
        What it is, and from which end it is measured.
    """

    value: str
    other: str
    where: str


@dataclass(frozen=True, slots=True)
class WorkStep:
    """A step of the work.

    Attributes
    ----------
    title, detail : str
        What is done.
    caution : str
        What to mind, as it stands on a sheet, where the cautions of the whole work stand below.
    figures : tuple of Figure
        Its dimensions and weights, the most important first.
    hazards : tuple of str
        Every caution that belongs to the step, in full, for a screen that shows the step alone.
    part_kinds : tuple of str
        Kinds of part that it takes.
    asks : str
        What is written down at it: ``RAW_WEIGHT``, ``MEASURED``, or nothing.
    """

    title: str
    detail: str
    caution: str = ""
    figures: tuple[Figure, ...] = ()
    hazards: tuple[str, ...] = ()
    part_kinds: tuple[str, ...] = ()
    asks: str = ""


@dataclass(frozen=True, slots=True)
class Expected:
    """A figure that should come out.

    Attributes
    ----------
    name, value : str
        In words, with its uncertainty and unit.
    """

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Target:
    """A value to be measured and written down.

    Attributes
    ----------
    name, target, tolerance : str
        In words.
    """

    name: str
    target: str
    tolerance: str


@dataclass(frozen=True, slots=True)
class ClubSheet:
    """One club, one page.

    Attributes
    ----------
    club_id, title : str
        The club.
    customer, order_ref : str
        For whom, under which order; empty where there is none.
    made_on : str
        Day of the sheet.
    verdict : str
        Whether the tip goes in the bore, in words.
    reasons : tuple of str
        What stands in the way of building it, or is to be found out first; empty where nothing is.
    parts : tuple of Part
        To pull.
    steps : tuple of WorkStep
        In order of work.
    expected : tuple of Expected
        What should come out.
    targets : tuple of Target
        What to measure.
    cautions, notes : tuple of str
        What to mind; what was assumed, or is not known.
    code : str
        Text of the code that opens the club in the tool.
    picture : str
        SVG of the stiffness along the installed shaft; empty where there is none.
    picture_caption : str
        What it shows.
    raw_weight_g, raw_within_g : float
        What the raw shaft should weigh, and how far off it may be, g.
    """

    club_id: str
    title: str
    customer: str
    order_ref: str
    made_on: str
    verdict: str
    parts: tuple[Part, ...]
    steps: tuple[WorkStep, ...]
    expected: tuple[Expected, ...]
    targets: tuple[Target, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    code: str
    picture: str = ""
    picture_caption: str = ""
    raw_weight_g: float = 0.0
    raw_within_g: float = 0.0
    reasons: tuple[str, ...] = ()

    @property
    def cautions_left(self) -> tuple[str, ...]:
        """The cautions that do not stand at a step already."""
        told = {step.caution for step in self.steps}
        return tuple(text for text in self.cautions if text not in told)

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class TrimRow:
    """One club of a set in its trim chart: words, in the order of ``TRIM_HEADINGS``."""

    club: str
    head: str
    shaft: str
    tip_trim: str
    butt_trim: str
    cut_length: str
    playing_length: str
    swingweight: str
    frequency: str


TRIM_HEADINGS = (
    "club",
    "head",
    "shaft",
    "off the tip",
    "off the butt",
    "cut length",
    "playing length",
    "swingweight",
    "frequency, cpm",
)


@dataclass(frozen=True, slots=True)
class SetSheet:
    """A set on one page, before its clubs.

    Attributes
    ----------
    set_id, customer, order_ref, made_on : str
        What it is.
    rows : tuple of TrimRow
        The trim chart.
    slope : str
        Frequency against length, in words.
    notes : tuple of str
        What is to be known.
    """

    set_id: str
    customer: str
    order_ref: str
    made_on: str
    rows: tuple[TrimRow, ...]
    slope: str
    notes: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return asdict(self)
