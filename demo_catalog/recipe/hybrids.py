"""Hybrid shafts: woods' make, irons' tips."""

from __future__ import annotations

from recipe import makers
from recipe.design import HYBRID, TABLE, TWO_FIGURES, Design, Line, members
from recipe.tubes import Layup, Outside

_EVEN = Layup(ratio=3.4, power=1.30, tip_ply_in=4.5, k=0.52)
_FIRM_TIP = Layup(ratio=2.9, power=1.15, tip_ply=0.13, ends=((0.30, 0.04), (0.58, 0.03)), k=0.58)
_SOFT_TIP = Layup(ratio=4.0, power=1.30, tip_ply=0.05, ends=((0.45, 0.04), (0.70, 0.02)), k=0.47, bias=0.38)


def _hybrid(maker: str, model: str, layup: Layup, **more: object) -> Line:
    known: dict[str, object] = {
        "club_type": "hybrid",
        "material": "graphite",
        "raw_in": 42.0,
        "tip_form": "parallel",
        "outside": Outside(0.370, 5.0, 0.0074, 0.600),
        "trim_in": 3.0,
        "known": TABLE,
        "key": f"{makers.SHORT[maker]}-{model.lower().replace(' ', '-')}",
    }
    return Line(maker=maker, model=model, layup=layup, **{**known, **more})  # type: ignore[arg-type]


SKER = _hybrid(makers.HOLLIN, "Sker Hybrid", _EVEN, price=72.0, gauge_in=37.0)
WHIMBREL = _hybrid(makers.HOLLIN, "Whimbrel Hybrid", _FIRM_TIP, price=104.0, gauge_in=37.0)
SISKIN = _hybrid(makers.HOLLIN, "Siskin Hybrid", _SOFT_TIP, price=64.0, trim_in=2.0)
HOLM = _hybrid(makers.HOLLIN, "Holm Hybrid", _EVEN, price=58.0, first_in=4.0, step_in=2.5, raw_in=41.0)
TEASEL = _hybrid(
    makers.QUERN, "Teasel Hybrid", _EVEN, price=66.0, known=TWO_FIGURES, says_balance=False, says_growth=False
)
GLOAM = _hybrid(
    makers.DUSKMERE, "Gloam Hybrid", _FIRM_TIP, price=125.0, material="composite", first_in=3.0,
    outside=Outside(0.350, 4.5, 0.0076, 0.600), says_growth=False,
)  # fmt: skip


def designs() -> list[Design]:
    """All hybrid shafts."""
    return [
        *members(
            SKER,
            HYBRID,
            [("75", "R", 74.0, 272.0), ("75", "S", 77.0, 283.0), ("85", "S", 85.5, 284.0), ("85", "X", 88.0, 295.0)],
        ),
        *members(WHIMBREL, HYBRID, [("85", "S", 86.5, 287.0), ("85", "X", 89.0, 297.0)]),
        *members(SISKIN, HYBRID, [("60", "L", 58.0, 256.0), ("60", "A", 60.0, 262.0), ("65", "R", 65.0, 270.0)]),
        *members(
            HOLM,
            HYBRID,
            [("70", "R", 70.5, 268.0), ("70", "S", 73.0, 278.0), ("80", "S", 81.0, 279.5), ("80", "X", 83.5, 289.0)],
        ),
        *members(TEASEL, HYBRID, [("75", "R", 75.0, 264.0), ("75", "S", 77.0, 274.0), ("85", "S", 86.0, 275.0)]),
        *members(GLOAM, HYBRID, [("80", "S", 80.0, 285.0), ("90", "X", 90.5, 296.0)]),
    ]
