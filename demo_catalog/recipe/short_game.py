"""Wedge and putter shafts."""

from __future__ import annotations

from recipe import makers
from recipe.design import LABELS, PUTTER, TABLE, TWO_FIGURES, WEDGE, Design, Line, tuned
from recipe.tubes import Layup, Outside, Steps, steel

_EVEN = Layup(ratio=2.6, power=1.2, tip_ply_in=4.5, k=0.52)
_STIFF = Layup(ratio=1.9, power=1.1, tip_ply=0.05, k=0.60)
_TAPER = Outside(0.355, 0.0, 0.0075, 0.600)
_STEEL = Outside(0.355, 0.0, 0.0075, 0.580)


def _line(maker: str, model: str, club_type: str, layup: Layup, **more: object) -> Line:
    known: dict[str, object] = {
        "club_type": club_type,
        "material": "graphite",
        "raw_in": 37.0,
        "tip_form": "taper",
        "outside": _TAPER,
        "trim_in": 0.0,
        "known": TABLE,
        "key": f"{makers.SHORT[maker]}-{model.lower().replace(' ', '-')}",
        "step_in": 2.5,
    }
    return Line(maker=maker, model=model, layup=layup, **{**known, **more})  # type: ignore[arg-type]


TENTER = _line(
    makers.STAVELY, "Tenter Wedge", "wedge", _EVEN, material="steel", outside=_STEEL, price=27.0, says_growth=False
)
TENTER_P = _line(
    makers.STAVELY, "Tenter Wedge Parallel", "wedge", _EVEN, material="steel", tip_form="parallel", trim_in=1.5,
    outside=Outside(0.370, 8.0, 0.0, 0.580), price=27.0, says_growth=False,
)  # fmt: skip
HOLM = _line(makers.HOLLIN, "Holm Wedge", "wedge", _EVEN, price=48.0, first_in=3.0)
GLOAM = _line(makers.DUSKMERE, "Gloam Wedge", "wedge", _EVEN, material="composite", price=94.0, first_in=3.0)
WITHY = _line(
    makers.QUERN, "Withy Wedge", "wedge", _EVEN, known=LABELS, price=36.0, says_growth=False, says_balance=False
)
STRAIGHT = _line(
    makers.STAVELY, "Mandrel Putter", "putter", _STIFF, material="steel", raw_in=36.0, tip_form="parallel",
    trim_in=2.0, outside=Outside(0.370, 6.0, 0.0, 0.580), price=16.0, says_growth=False,
)  # fmt: skip
PLY = _line(
    makers.DUSKMERE, "Gloam Putter", "putter", _STIFF, material="composite", raw_in=38.0, tip_form="parallel",
    trim_in=2.0, outside=Outside(0.370, 6.0, 0.0060, 0.590), price=118.0, first_in=3.0,
)  # fmt: skip
TWO = _line(
    makers.HOLLIN, "Holm Putter", "putter", _STIFF, raw_in=37.0, tip_form="parallel", trim_in=1.0,
    outside=Outside(0.370, 6.0, 0.0064, 0.585), price=84.0, known=TWO_FIGURES,
)  # fmt: skip
PLAIN = _line(
    makers.STAVELY, "Lathe Putter", "putter", _STIFF, material="steel", raw_in=35.0, tip_form="parallel",
    trim_in=1.0, outside=Outside(0.370, 6.0, 0.0, 0.580), price=11.0, known=LABELS, says_growth=False,
    says_balance=False,
)  # fmt: skip


def _one(line: Line, label: str, flex: str, weight: float, made: Steps | float) -> Design:
    """A steel shaft from its steps, or a graphite one from its frequency."""
    setup = WEDGE if line.club_type == "wedge" else PUTTER
    if isinstance(made, Steps):
        blank = steel(line.raw_in, weight, made)
    else:
        blank = tuned(line, weight, made, setup)
    return Design(line, f"{line.key}-{label}-{flex.lower()}", flex, label, None, blank, setup)


def _taper(first: float) -> Steps:
    return Steps(0.355, 0.580, first, 9.0, 12, 0.0075, 1.9)


def _parallel(first: float, count: int = 12, butt: float = 0.580, wall: float = 1.9) -> Steps:
    return Steps(0.370, butt, first, 9.0, count, 0.0, wall)


def designs() -> list[Design]:
    """All wedge and putter shafts."""
    return [
        _one(TENTER, "110", "Wedge", 110.0, _taper(14.0)),
        _one(TENTER, "120", "Wedge", 118.0, _taper(14.5)),
        _one(TENTER, "120", "Stiff", 119.0, _taper(12.5)),
        _one(TENTER_P, "115", "Wedge", 115.0, _parallel(14.5)),
        _one(HOLM, "95", "S", 95.0, 316.0),
        _one(HOLM, "85", "R", 84.0, 305.0),
        _one(GLOAM, "105", "Wedge", 104.0, 320.0),
        _one(WITHY, "75", "R", 76.0, 304.0),
        _one(STRAIGHT, "120", "Putter", 120.0, _parallel(12.0, 3)),
        _one(STRAIGHT, "130", "Putter", 130.0, _parallel(12.0, 3)),
        _one(PLY, "95", "Putter", 96.0, 320.0),
        _one(PLY, "115", "Firm", 116.0, 345.0),
        _one(TWO, "90", "Putter", 88.0, 318.0),
        _one(PLAIN, "115", "Putter", 115.0, _parallel(14.0, 2)),
    ]
