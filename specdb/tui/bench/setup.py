"""How the bench is set up: at which places what is read, with which mass, span, load and instrument."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from specdb.errors import SpecdbError
from specdb.schema import load_schema
from specdb.tui.widgets.numbers import short
from specdb.verbs.catalogue.values import parse_value

if TYPE_CHECKING:
    from specdb.records.rows import Shaft

CLAMP_IN = 5.0  # of butt in the clamp of a frequency meter (common practice, no source)
_TIP_MASS_G = {"wood": 205.0, "hybrid": 230.0}  # a clip about as heavy as a head (common practice, no source)
_TIP_MASS_IRON_G = 250.0
_STEP_IN, _MOST = 4.0, 10
_SPAN_IN = 8.0
_FREE_LENGTHS = 5

FREQUENCY, BENDING, SINGLE = "frequency", "ei", "single"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the set-up.

    Attributes
    ----------
    name, label : str
        Its name, and what stands before it.
    field : str
        Field of a reading that it fills.
    many : bool
        Whether it takes several numbers.
    hint : str
        What it is, in a word or two.
    """

    name: str
    label: str
    field: str
    many: bool = False
    hint: str = ""


LINES = (
    Line("free_lengths", "free lengths, in", "free_length_in", many=True, hint="of the frequencies, such as 41 38 35"),
    Line("tip_mass", "mass at tip, g", "tip_mass_g", hint="0 for none"),
    Line("meter", "frequency meter", "instrument"),
    Line("stations", "stations, in", "position_in", many=True, hint="from the raw tip, of the three-point readings"),
    Line("span", "span of jig, in", "span_in", hint="empty: EI at a place"),
    Line("bend_load", "load of jig, N", "load_n", hint="for readings typed in mm"),
    Line("jig", "bending jig", "instrument"),
    Line("deflection_length", "deflection at, in", "free_length_in", hint="free length"),
    Line("deflection_load", "its load, N", "load_n"),
    Line("board", "its board", "instrument"),
    Line("torque_length", "torque over, in", "free_length_in", hint="between the clamps"),
    Line("torque_jig", "torque jig", "instrument"),
    Line("scales", "scales", "instrument"),
)
_BY_NAME = {line.name: line for line in LINES}


@dataclass(frozen=True, slots=True)
class Slot:
    """One entry for one reading.

    Attributes
    ----------
    id : str
        Its name on the screen.
    group : str
        The row it stands in.
    quantity, label, name : str
        What is read; what stands over the entry; and what it is called in a sentence.
    fields : mapping
        Fields of the reading that the set-up gives.
    """

    id: str
    group: str
    quantity: str
    label: str
    name: str
    fields: Mapping[str, Any] = field(default_factory=dict)


def usual_texts(shaft: Shaft) -> dict[str, str]:
    """The set-up that is proposed for a shaft.

    Parameters
    ----------
    shaft : Shaft
        The shaft, with its raw length.
    """
    raw = shaft.raw_length_in or 46.0
    longest = raw - CLAMP_IN
    lengths = [longest - _STEP_IN * i for i in range(_FREE_LENGTHS)]
    first = _SPAN_IN / 2.0 + 1.0
    count = min(int((raw - _SPAN_IN / 2.0 - first) / _STEP_IN) + 1, _MOST)
    stations = [first + _STEP_IN * i for i in range(count)]
    mass = _TIP_MASS_G.get(shaft.club_type, _TIP_MASS_IRON_G)
    texts = {line.name: "" for line in LINES}
    return texts | {
        "free_lengths": " ".join(short(v) for v in lengths if v > 0),
        "tip_mass": short(mass),
        "stations": " ".join(short(v) for v in stations),
        "span": short(_SPAN_IN),
        "deflection_length": short(longest),
        "deflection_load": "9.81",
        "torque_length": short(raw - 2.0),
    }


def wrong_with(texts: Mapping[str, str]) -> str:
    """What is wrong with a set-up, in a sentence; empty if nothing is.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in its lines.
    """
    for line in LINES:
        try:
            values = _values(line, texts.get(line.name, ""))
        except SpecdbError as error:
            return f"{line.label}: {error}."
        if len(set(values)) < len(values):
            return f"{line.label}: a place stands there twice."
    return ""


def _values(line: Line, text: str) -> list[Any]:
    table = load_schema().table("shaft_reading")
    parts = re.split(r"[\s;]+", text.strip()) if line.many else [text.strip()]
    found = [parse_value(table, table.field(line.field), part) for part in parts]
    return [value for value in found if value is not None]


def slots_of(texts: Mapping[str, str]) -> list[Slot]:
    """The entries that a set-up gives.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in its lines; must be right.
    """

    def one(name: str) -> Any:  # noqa: ANN401 (as the field's type says)
        values = _values(_BY_NAME[name], texts.get(name, ""))
        return values[0] if values else None

    def many(name: str) -> list[float]:
        return sorted(_values(_BY_NAME[name], texts.get(name, "")), reverse=name == "free_lengths")

    def given(**fields: Any) -> dict[str, Any]:  # noqa: ANN401 (fields of a reading)
        return {name: value for name, value in fields.items() if value is not None}

    slots = [
        Slot(f"frequency-{_id(free)}", FREQUENCY, "frequency", short(free), f"frequency at {short(free)} in",
             given(free_length_in=free, tip_mass_g=one("tip_mass"), instrument=one("meter")))
        for free in many("free_lengths")
    ]  # fmt: skip
    bend = given(span_in=one("span"), load_n=one("bend_load"), instrument=one("jig"))
    slots += [
        Slot(
            f"ei-{_id(place)}", BENDING, "ei", short(place), f"EI at {short(place)} in", {**bend, "position_in": place}
        )
        for place in many("stations")
    ]
    scales = given(instrument=one("scales"))
    slots += [
        Slot("weight", SINGLE, "weight", "weight g", "weight", scales),
        Slot("balance", SINGLE, "balance", "balance in", "balance point", scales),
        Slot("torque", SINGLE, "torque", "torque deg", "torque",
             given(free_length_in=one("torque_length"), instrument=one("torque_jig"))),
        Slot("deflection", SINGLE, "deflection", "deflect. mm", "deflection",
             given(free_length_in=one("deflection_length"), load_n=one("deflection_load"), instrument=one("board"))),
    ]  # fmt: skip
    return slots


def _id(place: float) -> str:
    return f"{place:g}".replace(".", "_")
