"""What is typed at the bench, read and judged: by the value that counts after the correction of its instrument."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from specdb.errors import FieldError, UnitError
from specdb.orders.as_built import Judged, Judgement, judge_corrected
from specdb.orders.measured_words import value_words
from specdb.orders.tolerances import TOLERANCES
from specdb.tui.widgets.prose import Line, sentence
from specdb.tui.widgets.words import day
from specdb.units.writing import as_sentence, begun
from specdb.verbs.building.as_built import parse_built, true_value

if TYPE_CHECKING:
    import datetime as dt

    from specdb.orders.as_built import Aim
    from specdb.profiles.calibration import Calibrations
    from specdb.records.rows import AsBuilt
    from specdb.sheets.content import ClubSheet
    from specdb.verbs.building.as_built import BuiltAnswer
    from specdb.verbs.building.expected_build import Expectation
    from specdb.verbs.building.sheet_code import UnitMeant

PARTS = {Judgement.AS_WANTED: "good", Judgement.WITHIN_DOUBT: "doubt", Judgement.OUTSIDE: "bad",
         Judgement.IN_QUESTION: "bad"}  # fmt: skip
MARKS = {
    Judgement.AS_WANTED: "✓",
    Judgement.WITHIN_DOUBT: "~",
    Judgement.OUTSIDE: "!",
    Judgement.IN_QUESTION: "?",
    Judgement.WAIVED: "–",
    Judgement.NO_TARGET: "·",
}
HOW = {
    "length": "sole on the floor to the edge of the grip cap",
    "weight": "the whole club on the scale",
    "swingweight": "such as D2.5",
    "frequency": "butt clamped {clamp:g} in, no grip on",
    "loft": "in the gauge, sole square",
    "lie": "in the gauge",
    "grip_size": "diameter of the grip, if it is asked for",
    "head_weight": "with what was added, before it is glued, if it is asked for",
}


@dataclass(frozen=True, slots=True)
class OnBench:
    """One club on the bench, with all that its measurements are judged by.

    Attributes
    ----------
    meant : UnitMeant
        Which.
    sheet : ClubSheet
        Its sheet.
    answer : BuiltAnswer
        What is kept of it.
    expected : Expectation
        What it should come out at.
    calibrations : Calibrations or None
        Of the shop's instruments; None where there are none.
    instruments : tuple of str
        Instruments that are known by name.
    pieces : tuple of str
        Pieces of its shaft that were measured.
    mates : tuple of UnitMeant
        Every club of the order, or of the set.
    set_id : str or None
        The set it belongs to.
    raw_weight_g : float or None
        What the piece of its shaft weighed before it was cut; None where it was not weighed.
    """

    meant: UnitMeant
    sheet: ClubSheet
    answer: BuiltAnswer
    expected: Expectation
    calibrations: Calibrations | None = None
    instruments: tuple[str, ...] = ()
    pieces: tuple[str, ...] = ()
    mates: tuple[UnitMeant, ...] = ()
    set_id: str | None = None
    raw_weight_g: float | None = None

    def aim(self, quantity: str) -> Aim:
        """What a quantity should come out at."""
        return self.expected.aims[quantity]

    @property
    def clamp_in(self) -> float:
        """Clamped length of butt for the frequency, in."""
        return self.expected.clamp_in


@dataclass(frozen=True, slots=True)
class Read:
    """An entry as it was read.

    Attributes
    ----------
    quantity, text : str
        What was typed for what.
    value : float or None
        In its stored unit; None where it is empty or wrong.
    error : str
        What is wrong with it; empty where nothing is.
    judged : Judged or None
        Its judgement.
    """

    quantity: str
    text: str
    value: float | None = None
    error: str = ""
    judged: Judged | None = field(default=None)


def read(bench: OnBench, quantity: str, text: str, instrument: str, today: dt.date) -> Read:
    """Read and judge an entry.

    Parameters
    ----------
    bench : OnBench
        The club.
    quantity, text : str
        What was typed for what.
    instrument : str
        What it was measured with; may be empty.
    today : date
        Day of the measurement.
    """
    text = text.strip()
    if not text:
        return Read(quantity, text)
    try:
        value = parse_built(quantity, text)
    except (FieldError, UnitError) as error:
        said = str(error)
        return Read(quantity, text, error=begun(said))
    true = true_value(bench.calibrations, quantity, value, instrument or None, today)
    judged = judge_corrected(quantity, value, true, bench.aim(quantity), bench.expected.facts)
    return Read(quantity, text, value, "", judged)


def wanted(bench: OnBench, quantity: str) -> str:
    """Target and tolerance of a quantity, in a few words.

    Parameters
    ----------
    bench : OnBench
        The club.
    quantity : str
        What is measured.
    """
    target = bench.aim(quantity).target
    if target is None:
        return "no target"
    return f"{value_words(quantity, target)} {TOLERANCES[quantity].said}"


def verdict(judged: Judged) -> str:
    """A judgement in a word or two, with its mark.

    Parameters
    ----------
    judged : Judged
        The judgement.
    """
    off = judged.said.partition(":")[0]
    if judged.judgement == Judgement.IN_QUESTION:
        return f"{MARKS[judged.judgement]} measured again?"
    word = off if judged.judgement in (Judgement.OUTSIDE, Judgement.WITHIN_DOUBT) else judged.judgement
    return f"{MARKS.get(judged.judgement, '·')} {word.replace('_', ' ')}"


def told(found: Read, instrument: str, width: int) -> list[Line]:
    """All that is to be said of an entry: what is wrong, or how it is judged and what to do.

    Parameters
    ----------
    found : Read
        The entry.
    instrument : str
        What it was measured with; may be empty.
    width : int
        Columns.
    """
    if found.error:
        return sentence(found.error, width, before=(("! ", "bad"),), part="bad")
    judged = found.judged
    if judged is None:
        return []
    lines = sentence(_said(judged), width, part=PARTS.get(judged.judgement, "plain"))
    if judged.advice:
        lines += sentence(as_sentence(judged.advice), width, part="strong")
    if judged.corrected is not None:
        counts = value_words(found.quantity, judged.corrected)
        text = f"{instrument} is corrected by its reference readings: {counts} counts."
        lines += sentence(text, width, part="quiet")
    return lines


def _said(judged: Judged) -> str:
    if judged.judgement == Judgement.IN_QUESTION:
        return f"{MARKS[judged.judgement]} {judged.said}"
    word = str(judged.judgement).replace("_", " ").upper()
    said = "" if word.lower() in judged.said else f": {judged.said}"
    return f"{MARKS.get(judged.judgement, '·')} {word}{said}"


def kept_words(bench: OnBench, quantity: str) -> tuple[str, str, str]:
    """What is kept of a quantity: in short, in full, and the part it plays; empty where nothing is.

    Parameters
    ----------
    bench : OnBench
        The club.
    quantity : str
        What was measured.
    """
    row = bench.answer.rows.get(quantity)
    judged = next((j for j in bench.answer.judged if j.quantity == quantity), None)
    if row is None or judged is None:
        return "", "", "quiet"
    since = _since(row)
    if row.value is None:
        return f"– waived: {row.waived}", f"Kept: waived{since}, as {row.waived}", "quiet"
    value = value_words(quantity, row.value)
    full = f"Kept: {value}{since}; {_said(judged)}"
    return f"{value} kept  {verdict(judged)}", full, PARTS.get(judged.judgement, "quiet")


def _since(row: AsBuilt) -> str:
    by = f" by {row.taken_by}" if row.taken_by else ""
    on = f" on {day(row.taken_on)}" if row.taken_on else ""
    using = f" with {row.instrument}" if row.instrument else ""
    return f"{by}{on}{using}"


def given(reads: Mapping[str, Read]) -> dict[str, float]:
    """The values that are typed and right.

    Parameters
    ----------
    reads : mapping of str to Read
        The entries.
    """
    return {name: r.value for name, r in reads.items() if r.value is not None}
