"""Wood shafts. A flex word means what its maker wants it to: the S of one is the R of another."""

from __future__ import annotations

from recipe import makers
from recipe.design import DRIVER, LABELS, TABLE, TWO_FIGURES, Design, Line, members
from recipe.tubes import Layup, Outside, Steps, steel

_EVEN = Layup(ratio=3.9, power=1.30, k=0.52)
_FIRM_TIP = Layup(ratio=3.3, power=1.15, tip_ply=0.14, tip_ply_in=5.0, ends=((0.30, 0.04), (0.58, 0.03)), k=0.58)
_SOFT_TIP = Layup(ratio=5.0, power=1.30, tip_ply=0.05, ends=((0.45, 0.04), (0.70, 0.02)), k=0.47, bias=0.36)
_LATE = Layup(ratio=4.0, power=1.75, full_at=0.95, ends=((0.28, 0.03), (0.55, 0.05)), k=0.55, bias=0.38)
_CLOSE = Layup(ratio=3.8, power=1.32, tip_ply=0.09, ends=((0.37, 0.04), (0.60, 0.04)), k=0.515)


def _wood(maker: str, model: str, layup: Layup, **more: object) -> Line:
    known: dict[str, object] = {
        "club_type": "wood",
        "material": "graphite",
        "raw_in": 46.0,
        "tip_form": "parallel",
        "outside": Outside(0.335, 4.0, 0.0076, 0.600),
        "trim_in": 2.0,
        "known": TABLE,
        "key": f"{makers.SHORT[maker]}-{model.lower().replace(' ', '-')}",
    }
    return Line(maker=maker, model=model, layup=layup, **{**known, **more})  # type: ignore[arg-type]


SKER = _wood(makers.HOLLIN, "Sker", _EVEN, price=98.0, gauge_in=40.0)
WHIMBREL = _wood(
    makers.HOLLIN, "Whimbrel", _FIRM_TIP, price=145.0, gauge_in=40.0, outside=Outside(0.335, 3.5, 0.0079, 0.605)
)
SISKIN = _wood(makers.HOLLIN, "Siskin", _SOFT_TIP, price=82.0, trim_in=1.5, outside=Outside(0.335, 3.0, 0.0074, 0.595))
OUZEL = _wood(
    makers.HOLLIN, "Ouzel", _EVEN, price=110.0, raw_in=44.0, trim_in=2.5, gauge_in=40.0,
    outside=Outside(0.335, 4.5, 0.0080, 0.600),
)  # fmt: skip
HOLM = _wood(
    makers.HOLLIN, "Holm", _CLOSE, price=76.0, first_in=4.0, step_in=2.5,
    outside=Outside(0.335, 4.0, 0.0075, 0.600),
)  # fmt: skip
SELVEDGE = _wood(
    makers.AMBREL, "Selvedge", _LATE, price=160.0, first_in=4.0, step_in=2.5, raw_in=46.5,
    outside=Outside(0.335, 4.0, 0.0077, 0.610),
)  # fmt: skip
LYDE = _wood(
    makers.AMBREL, "Lyde", _CLOSE, price=120.0, first_in=4.0, step_in=2.5,
    outside=Outside(0.350, 4.0, 0.0073, 0.600),
)  # fmt: skip
DRUGGET = _wood(
    makers.AMBREL, "Drugget", _EVEN, price=42.0, known=LABELS, says_growth=False, says_balance=False, trim_in=1.0
)
TEASEL = _wood(makers.QUERN, "Teasel", _EVEN, price=88.0, known=TWO_FIGURES, says_growth=False, says_balance=False)
BRACKEN = _wood(
    makers.QUERN, "Bracken", _SOFT_TIP, price=64.0, known=TWO_FIGURES, trim_in=None, says_growth=False,
    says_balance=False,
)  # fmt: skip
WITHY = _wood(
    makers.QUERN, "Withy", _SOFT_TIP, price=52.0, known=LABELS, trim_in=None, says_growth=False,
    says_balance=False,
)  # fmt: skip
GLOAM = _wood(
    makers.DUSKMERE, "Gloam", _FIRM_TIP, price=175.0, material="composite", first_in=3.0, gauge_in=42.0,
    says_growth=False, raw_in=45.5,
)  # fmt: skip
MANDREL = _wood(
    makers.STAVELY, "Mandrel Wood", _EVEN, price=24.0, material="steel", raw_in=45.0,
    outside=Outside(0.335, 6.0, 0.0075, 0.600), first_in=2.0, step_in=2.5,
)  # fmt: skip


def designs() -> list[Design]:
    """All wood shafts."""
    return [
        *members(
            SKER,
            DRIVER,
            [
                ("40", "L", 43.0, 233.0),
                ("40", "A", 44.5, 238.0),
                ("50", "R", 53.0, 246.0),
                ("50", "S", 55.5, 256.0),
                ("60", "R", 61.0, 247.5),
                ("60", "S", 63.5, 257.5),
                ("60", "X", 66.0, 268.0),
                ("70", "S", 72.0, 259.0),
                ("70", "X", 74.5, 269.5),
            ],
        ),
        *members(
            WHIMBREL,
            DRIVER,
            [
                ("55", "R", 57.0, 250.0),
                ("55", "S", 59.0, 260.0),
                ("65", "S", 67.0, 261.0),
                ("65", "X", 69.0, 271.0),
                ("75", "S", 76.5, 262.0),
                ("75", "X", 78.5, 273.0),
            ],
        ),
        *members(
            SISKIN,
            DRIVER,
            [
                ("45", "L", 44.0, 232.0),
                ("45", "A", 45.5, 237.0),
                ("45", "R", 47.5, 244.0),
                ("50", "R", 52.0, 245.0),
                ("50", "S", 54.0, 254.0),
            ],
        ),
        *members(
            OUZEL,
            DRIVER,
            [
                ("70", "R", 70.0, 252.0),
                ("70", "S", 72.5, 262.0),
                ("80", "S", 80.5, 263.5),
                ("80", "X", 83.0, 272.5),
            ],
        ),
        *members(
            HOLM,
            DRIVER,
            [
                ("50", "R", 54.0, 243.0),
                ("50", "S", 56.0, 252.5),
                ("60", "R", 62.0, 244.0),
                ("60", "S", 65.0, 253.5),
                ("60", "X", 66.5, 263.0),
                ("70", "S", 71.5, 255.0),
                ("70", "X", 74.0, 265.0),
            ],
        ),
        *members(
            SELVEDGE,
            DRIVER,
            [
                ("55", "R", 56.0, 247.0),
                ("55", "S", 58.0, 257.0),
                ("65", "S", 66.0, 258.5),
                ("65", "X", 68.0, 268.5),
            ],
        ),
        *members(
            LYDE,
            DRIVER,
            [("60", "R", 62.5, 247.0), ("60", "S", 64.0, 257.0), ("60", "X", 66.5, 267.0), ("70", "S", 72.5, 258.0)],
        ),
        *members(
            DRUGGET,
            DRIVER,
            [("50", "R", 52.0, 242.0), ("55", "S", 57.0, 251.0), ("60", "S", 62.0, 252.0), ("65", "X", 66.0, 262.0)],
        ),
        *members(
            TEASEL,
            DRIVER,
            [
                ("50", "R", 53.5, 238.5),
                ("50", "SR", 54.5, 243.0),
                ("50", "S", 55.5, 247.5),
                ("60", "R", 62.0, 239.0),
                ("60", "SR", 63.0, 243.5),
                ("60", "S", 64.0, 248.0),
                ("60", "TX", 66.5, 263.0),
            ],
        ),
        *members(
            BRACKEN,
            DRIVER,
            [("40", "L", 42.0, 231.0), ("40", "A", 43.0, 235.5), ("45", "A", 46.5, 236.5), ("45", "R", 48.0, 242.0)],
        ),
        *members(
            WITHY,
            DRIVER,
            [
                ("45", "L", 45.0, 232.0),
                ("45", "A", 46.0, 236.0),
                ("55", "R", 56.0, 244.0),
                ("55", "S", 58.0, 253.0),
                ("65", "S", 67.0, 254.0),
                ("65", "X", 69.0, 264.0),
            ],
        ),
        *members(
            GLOAM,
            DRIVER,
            [("60", "R", 62.0, 249.0), ("60", "S", 65.0, 259.0), ("70", "S", 73.0, 260.0), ("70", "X", 76.0, 270.0)],
        ),
        *_steel(),
    ]


def _steel() -> list[Design]:
    """Two of the old kind: heavy, little torque."""
    found = []
    for flex, first in (("R", 12.0), ("S", 10.0)):
        blank = steel(MANDREL.raw_in, 118.0, Steps(0.335, 0.580, first, 11.0, 15, 0.0, 2.2))
        found.append(Design(MANDREL, f"mandrel-wood-120-{flex.lower()}", flex, "120", None, blank, DRIVER))
    return found
