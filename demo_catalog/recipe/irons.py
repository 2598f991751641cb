"""Iron shafts: parallel blanks that are trimmed through the set, and taper sets with one shaft a club number."""

from __future__ import annotations

from dataclasses import replace

from recipe import makers
from recipe.design import LABELS, NUMBERS, TABLE, TWO_FIGURES, Design, Line, iron_setup, members, place_in_set, tuned
from recipe.tubes import Layup, Outside, Steps, steel

_EVEN = Layup(ratio=3.2, power=1.30, tip_ply_in=4.5, k=0.50)
_FIRM_TIP = Layup(ratio=2.8, power=1.20, tip_ply=0.12, ends=((0.30, 0.04), (0.58, 0.03)), k=0.56)
_SOFT_TIP = Layup(ratio=3.7, power=1.30, tip_ply=0.05, ends=((0.45, 0.04), (0.70, 0.02)), k=0.46, bias=0.38)
_STEEL_LAYUP = Layup(ratio=3.0, power=1.2)  # stands in the line of a steel shaft and is not used
SLOPE_CPM = 4.3  # from one iron to the next


def trim_for(number: str) -> float:
    """Tip trim of a parallel blank for an iron: none for the 1-iron, half an inch more a club.

    Parameters
    ----------
    number : str
        As on the sole.
    """
    return 4.25 if number == "PW" else 0.5 * (place_in_set(number) - 1)


def _iron(maker: str, model: str, layup: Layup, **more: object) -> Line:
    known: dict[str, object] = {
        "club_type": "iron",
        "material": "graphite",
        "raw_in": 41.0,
        "tip_form": "parallel",
        "outside": Outside(0.370, 7.0, 0.0074, 0.600),
        "trim_in": 4.5,
        "known": TABLE,
        "key": f"{makers.SHORT[maker]}-{model.lower().replace(' ', '-')}",
    }
    return Line(maker=maker, model=model, layup=layup, **{**known, **more})  # type: ignore[arg-type]


def _steel_line(model: str, **more: object) -> Line:
    known: dict[str, object] = {
        "material": "steel",
        "first_in": 2.0,
        "step_in": 2.5,
        "price": 26.0,
        "says_growth": False,
        "trim_in": 5.0,
        "outside": Outside(0.370, 10.0, 0.0, 0.580),
    }
    return _iron(makers.STAVELY, model, _STEEL_LAYUP, **{**known, **more})


TENTER_P = _steel_line("Tenter Parallel")
REEVE_P = _steel_line("Reeve Parallel", known=TWO_FIGURES, price=31.0, says_balance=False)
TENTER_T = _steel_line("Tenter", tip_form="taper", trim_in=0.0, outside=Outside(0.355, 0.0, 0.0075, 0.580))
REEVE_T = _steel_line(
    "Reeve", tip_form="taper", trim_in=0.0, outside=Outside(0.355, 0.0, 0.0075, 0.580), known=TWO_FIGURES, price=33.0
)
SKER_P = _iron(makers.HOLLIN, "Sker Iron", _EVEN, price=54.0, gauge_in=36.0)
HOLM_P = _iron(makers.HOLLIN, "Holm Iron", _EVEN, price=46.0, first_in=4.0, step_in=2.5, raw_in=40.5)
TEASEL_P = _iron(
    makers.QUERN, "Teasel Iron", _SOFT_TIP, price=49.0, known=TWO_FIGURES, says_balance=False, says_growth=False
)
WITHY_P = _iron(
    makers.QUERN, "Withy Iron", _SOFT_TIP, price=34.0, known=LABELS, trim_in=None, says_balance=False,
    says_growth=False,
)  # fmt: skip
GLOAM_P = _iron(makers.DUSKMERE, "Gloam Iron", _FIRM_TIP, price=88.0, material="composite", first_in=3.0)
WHIMBREL_T = _iron(
    makers.HOLLIN, "Whimbrel Taper", _FIRM_TIP, price=79.0, tip_form="taper", trim_in=0.0, gauge_in=33.0,
    outside=Outside(0.355, 0.0, 0.0075, 0.600), step_in=2.5,
)  # fmt: skip
GLOAM_T = _iron(
    makers.DUSKMERE, "Gloam Taper", _EVEN, price=92.0, material="composite", tip_form="taper", trim_in=0.0,
    outside=Outside(0.355, 0.0, 0.0075, 0.600), first_in=3.0, step_in=2.5, says_growth=False,
)  # fmt: skip
WITHY_T = _iron(
    makers.QUERN, "Withy Taper", _SOFT_TIP, price=41.0, tip_form="taper", trim_in=0.0, known=LABELS,
    outside=Outside(0.355, 0.0, 0.0075, 0.600), says_balance=False, says_growth=False,
)  # fmt: skip

# raw length of a taper shaft by its club number, in
RAW_IN = {n: 39.0 - 0.5 * i for i, n in enumerate(NUMBERS)}


def _steel_blanks(line: Line, rows: list[tuple[str, str, float, float]]) -> list[Design]:
    """Parallel steel: weight class, flex, raw weight, first step; the nearer the first step, the stiffer."""
    found = []
    for label, flex, weight, first in rows:
        blank = steel(line.raw_in, weight, Steps(0.370, 0.580, first, 7.0, 14, 0.0, 1.9))
        found.append(Design(line, f"{line.key}-{label}-{flex.lower()}", flex, label, None, blank, iron_setup("6", 2.5)))
    return found


def _steel_taper(
    line: Line, label: str, flex: str, weight: float, first: float, numbers: tuple[str, ...]
) -> list[Design]:
    """A steel set of one weight; the raw shaft is half an inch shorter a club."""
    found = []
    for number in numbers:
        raw = RAW_IN[number]
        blank = steel(raw, weight, Steps(0.355, 0.580, first, 7.0, 13, 0.0075, 1.9))
        key = f"{line.key}-{label}-{flex.lower()}-{number.lower()}"
        found.append(Design(replace(line, raw_in=raw), key, flex, label, number, blank, iron_setup(number)))
    return found


def _graphite_taper(
    line: Line, label: str, flex: str, weight: float, six_cpm: float, numbers: tuple[str, ...]
) -> list[Design]:
    """A graphite set of one weight, its frequencies on a line."""
    found = []
    for number in numbers:
        setup = iron_setup(number)
        raw = RAW_IN[number]
        blank = tuned(line, weight, six_cpm + SLOPE_CPM * (place_in_set(number) - 6), setup, raw)
        key = f"{line.key}-{label}-{flex.lower()}-{number.lower()}"
        found.append(Design(replace(line, raw_in=raw), key, flex, label, number, blank, setup))
    return found


def designs() -> list[Design]:
    """All iron shafts."""
    six = iron_setup("6", 2.5)
    no_three = NUMBERS[1:]
    return [
        *_steel_blanks(
            TENTER_P,
            [("110", "R", 110.0, 15.5), ("115", "S", 116.0, 14.0), ("120", "X", 118.5, 12.5), ("95", "R", 97.0, 12.5)],
        ),
        *_steel_blanks(REEVE_P, [("100", "R", 101.0, 14.5), ("100", "S", 103.0, 12.0)]),
        *members(SKER_P, six, [("65", "A", 66.0, 283.0), ("80", "R", 80.0, 293.0), ("90", "S", 90.0, 304.0)]),
        *members(HOLM_P, six, [("75", "R", 74.0, 289.0), ("85", "S", 85.0, 300.0), ("95", "X", 95.0, 311.0)]),
        *members(TEASEL_P, six, [("70", "R", 71.0, 287.0), ("80", "S", 81.0, 296.0)]),
        *members(WITHY_P, six, [("60", "L", 58.0, 274.0), ("60", "A", 60.0, 280.0)]),
        *members(GLOAM_P, six, [("90", "R", 89.0, 295.0), ("95", "S", 95.0, 307.0)]),
        *_steel_taper(TENTER_T, "105", "S", 103.0, 12.5, NUMBERS),
        *_steel_taper(TENTER_T, "105", "X", 104.0, 11.0, no_three),
        *_steel_taper(TENTER_T, "100", "R", 98.5, 14.0, NUMBERS),
        *_steel_taper(REEVE_T, "90", "R", 91.0, 13.5, NUMBERS),
        *_steel_taper(REEVE_T, "90", "S", 92.5, 11.5, no_three),
        *_graphite_taper(WHIMBREL_T, "95", "S", 94.0, 305.0, no_three),
        *_graphite_taper(GLOAM_T, "85", "R", 84.0, 294.0, no_three[1:]),
        *_graphite_taper(WITHY_T, "70", "R", 70.0, 287.0, no_three),
    ]
