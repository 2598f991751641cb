"""What the place Build asks in dialogs: the measured piece, the instruments, and whose value counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from specdb.errors import FieldError, SpecdbError
from specdb.orders.measured_words import value_words
from specdb.orders.tolerances import TOLERANCES
from specdb.schema import load_schema
from specdb.tui.actions import Action
from specdb.tui.building.judge import OnBench
from specdb.tui.dialogs.lines import LinesDialog
from specdb.tui.dialogs.undo import AskDialog
from specdb.tui.dialogs.words import Wanted, WordsDialog
from specdb.units import parse_quantity, unit_label
from specdb.units.writing import begun
from specdb.verbs.building.finished_clubs import RawReadings
from specdb.verbs.building.raw_weight import next_piece

if TYPE_CHECKING:
    from specdb.records.rows import AsBuilt
    from specdb.tui.building.judge import Read

_LONGEST = 60
_RAW = {
    "weight": ("raw weight", "weight", "g"),
    "frequency": ("raw frequency", "frequency", "cpm"),
    "free": ("  free length", "free_length_in", "in"),
    "tip": ("  tip mass", "tip_mass_g", "g"),
}


class KeptDialog(LinesDialog):
    """What was kept of a club, and the next one: closes with True where that is gone to."""

    place = "kept"
    ACTIONS = (
        Action("answer(True)", "enter", "next club", "Put the next club on the bench."),
        Action("answer(False)", "escape", "stay", "Stay at this club."),
    )

    def action_answer(self, on: bool) -> None:
        """Close with the answer."""
        self.dismiss(on)


class WhoseDialog(AskDialog):
    """Whose values count: True for those typed here, False for those kept elsewhere, None for undecided."""

    place = "whose value"
    ACTIONS = (
        Action("answer(True)", "y", "replace", "Keep what is typed here in place of it."),
        Action("answer(False)", "n", "leave it", "Leave what is kept there; what is typed here for it is taken out."),
        Action("give_up", "escape", "not yet", "Decide later; what is typed stays typed."),
    )

    def action_give_up(self) -> None:
        """Close undecided."""
        self.dismiss(None)


def piece_dialog(bench: OnBench, piece: str, instruments: Mapping[str, str]) -> WordsDialog:
    """Ask for the piece of the shaft, and what was read on it before it was cut.

    Parameters
    ----------
    bench : OnBench
        The club.
    piece : str
        The piece that is named already.
    instruments : mapping of str to str
        What the bench measures with.
    """
    using = [f"{what} with {name}" for what, q in (("weighed", "weight"), ("timed", "frequency"))
             if (name := instruments.get(q))]  # fmt: skip
    said = f"Shaft {bench.answer.shaft}. What is read before it is cut becomes readings of this piece" + (
        f" ({', '.join(using)})." if using else "."
    )
    if bench.pieces:
        said += f" Measured before: {', '.join(bench.pieces)}."
    wanted = [
        Wanted("piece", "piece", piece, "such as piece 3; empty: not measured"),
        *(Wanted(name, label, "", f"{unit}, if it was read") for name, (label, _, unit) in _RAW.items()),
    ]
    return WordsDialog("The piece of the shaft", wanted, said=said, check=wrong_piece)


def weigh_dialog(bench: OnBench, piece: str, instruments: Mapping[str, str]) -> WordsDialog:
    """Ask what the raw shaft weighs, and which piece it is; a name is proposed where it has none.

    Parameters
    ----------
    bench : OnBench
        The club.
    piece : str
        The piece that is named already.
    instruments : mapping of str to str
        What the bench measures with.
    """
    sheet = bench.sheet
    using = f" Weighed with {name}." if (name := instruments.get("weight")) else ""
    said = (
        f"Shaft {bench.answer.shaft}: {sheet.raw_weight_g:.1f} g expected, within {sheet.raw_within_g:.1f} g.{using} "
        "Its weight becomes a reading of this piece; write the name on the shaft."
    )
    wanted = [
        Wanted("weight", "raw weight", "", "g"),
        Wanted("piece", "piece", piece or next_piece(bench.pieces), "such as piece 3"),
    ]
    return WordsDialog("The raw shaft on the scale", wanted, said=said, check=wrong_piece)


def wrong_piece(typed: Mapping[str, str]) -> str:
    """What is wrong with what was typed of a piece; empty where nothing is.

    Parameters
    ----------
    typed : mapping of str to str
        As typed.
    """
    try:
        raw = raw_of(typed, {})
    except SpecdbError as error:
        text = str(error)
        return begun(text)
    name = typed["piece"]
    if name.lower() == "published":
        return "'published' stands for a leaflet's table; name the piece that is on the bench."
    if len(name) > _LONGEST:
        return f"At most {_LONGEST} letters."
    if raw.given and not name:
        return "Name the piece that was read: readings of different pieces must not be mixed up."
    if raw.frequency_cpm is not None and (raw.free_length_in is None or raw.tip_mass_g is None):
        return "The frequency of the raw shaft needs its free length and its tip mass."
    return ""


def raw_of(typed: Mapping[str, str], instruments: Mapping[str, str]) -> RawReadings:
    """Readings of the raw piece as typed.

    Parameters
    ----------
    typed : mapping of str to str
        As typed.
    instruments : mapping of str to str
        What the bench measures with.

    Raises
    ------
    UnitError, FieldError
        If one is no such value, or not a possible one.
    """
    values = {name: _raw_value(name, typed[name]) for name in _RAW if typed.get(name, "").strip()}
    return RawReadings(
        weight_g=values.get("weight"),
        frequency_cpm=values.get("frequency"),
        free_length_in=values.get("free"),
        tip_mass_g=values.get("tip"),
        weighed_with=instruments.get("weight"),
        timed_with=instruments.get("frequency"),
    )


def _raw_value(name: str, text: str) -> float:
    label, field, unit = _RAW[name]
    table = load_schema().table("shaft_reading")
    value = parse_quantity(text, unit)
    if field in table.value_ranges:
        low, high = table.value_ranges[field]
    else:
        own = table.field(field)
        low, high = own.minimum or 0.0, own.maximum or float("inf")
    if not low <= value <= high:
        raise FieldError(
            f"{label.strip()}: '{text.strip()}' is {value:.4g} {unit_label(unit)}; {low:g} to {high:g} "
            f"{unit_label(unit)} is possible: is the unit right?",
            kind="shaft_reading",
            field=field,
            value=text,
        )
    return value


def instruments_dialog(bench: OnBench, instruments: Mapping[str, str]) -> WordsDialog:
    """Ask what each quantity is measured with.

    Parameters
    ----------
    bench : OnBench
        The club.
    instruments : mapping of str to str
        What the bench measures with until now.
    """
    known = f" Known here: {', '.join(bench.instruments)}." if bench.instruments else ""
    said = (
        "By its name an instrument is corrected for what its reference readings tell, and the shop sees its bias. "
        f"Empty: none is named.{known}"
    )
    wanted = [Wanted(q, t.title, instruments.get(q, "")) for q, t in TOLERANCES.items()]
    return WordsDialog("Measured with", wanted, said=said, check=_wrong_names)


def _wrong_names(typed: Mapping[str, str]) -> str:
    longest = load_schema().table("as_built").field("instrument").max_length or 120
    long = next((q for q, name in typed.items() if len(name) > longest), None)
    return "" if long is None else f"{TOLERANCES[long].title}: at most {longest} letters."


def sure_words(doubted: Sequence[Read]) -> str:
    """What was typed that is further off than work on the club can cause, and the question.

    Parameters
    ----------
    doubted : sequence of Read
        Those entries.
    """
    lines = [f"{TOLERANCES[r.quantity].title}: {r.judged.said}" for r in doubted if r.judged is not None]
    return "\n".join(lines) + "\n\nWork on the club does not put it so far off. Nothing is kept yet. Is it right?"


def meanwhile_words(rows: Sequence[AsBuilt], texts: Mapping[str, str], waived: Mapping[str, str]) -> str:
    """What another has kept meanwhile beside what is typed here, and the question.

    Parameters
    ----------
    rows : sequence of AsBuilt
        What is kept by now.
    texts, waived : mapping of str to str
        What is typed here.
    """
    lines = []
    for row in rows:
        q = row.quantity
        theirs = value_words(q, row.value) if row.value is not None else f"waived, as {row.waived}"
        mine = texts.get(q) or f"waived, as {waived.get(q, '')}"
        by = f" by {row.taken_by}" if row.taken_by else ""
        lines.append(f"{TOLERANCES[q].title}: kept{by} {theirs}, typed here {mine}")
    return (
        "This club was measured elsewhere meanwhile. Nothing is kept yet.\n\n"
        + "\n".join(lines)
        + "\n\nReplace what is kept there by what is typed here? With no, what is typed here for it is taken out."
    )
