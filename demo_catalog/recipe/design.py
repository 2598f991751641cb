"""One invented shaft before it becomes catalogue rows, and the club it is tuned in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from recipe.beam import Blank
from recipe.club_math import Setup, frequency_cpm
from recipe.tubes import Layup, Outside, graphite

TABLE, TWO_FIGURES, LABELS = "table", "two figures", "labels"

DRIVER = Setup(length_in=45.0, ground_in=1.2, insertion_in=1.3, head_g=200.0, cg_in=1.5)
HYBRID = Setup(length_in=40.0, ground_in=1.1, insertion_in=1.25, head_g=236.0, cg_in=1.5)
NUMBERS = ("3", "4", "5", "6", "7", "8", "9", "PW")


def place_in_set(number: str) -> int:
    """Place of an iron in its set: 3 for the 3-iron, 10 for the pitching wedge, 11 for the one after it.

    Parameters
    ----------
    number : str
        As on the sole.
    """
    return {"PW": 10, "AW": 11}.get(number) or int(number)


def iron_setup(number: str, trim_in: float = 0.0) -> Setup:
    """A usual iron: half an inch and seven grams a club.

    Parameters
    ----------
    number : str
        As on the sole.
    trim_in : float
        Tip trim, in.
    """
    place = place_in_set(number)
    return Setup(
        length_in=39.0 - 0.5 * (place - 3),
        ground_in=1.0,
        insertion_in=1.25,
        head_g=236.0 + 7.0 * (place - 3),
        cg_in=2.0,
        trim_in=trim_in,
    )


WEDGE = Setup(length_in=35.25, ground_in=1.0, insertion_in=1.25, head_g=300.0, cg_in=2.0)
PUTTER = Setup(length_in=34.0, ground_in=1.0, insertion_in=1.1, head_g=355.0, cg_in=1.8)


@dataclass(frozen=True)
class Line:
    """A maker's line: what its shafts have in common.

    Attributes
    ----------
    maker, model, club_type, material : str
        As in the catalogue.
    key : str
        First part of the keys of its shafts.
    raw_in : float
        Raw length, in.
    tip_form : str
        parallel or taper.
    outside : Outside
        Of a graphite shaft.
    layup : Layup
        Of a graphite shaft.
    trim_in : float or None
        Most tip trim the maker allows; None: it says nothing.
    known : str
        How much is known of its stiffness.
    first_in, step_in : float
        Stations of its published table: the first, and the distance between them.
    gauge_in : float or None
        Gauge length of its torque rating, where it says.
    price : float
        Usual price.
    says_balance, says_growth : bool
        Whether its leaflets give the balance point, the growth behind the tip.
    """

    maker: str
    model: str
    key: str
    club_type: str
    material: str
    raw_in: float
    tip_form: str
    outside: Outside
    layup: Layup
    trim_in: float | None
    known: str
    first_in: float = 2.0
    step_in: float = 3.0
    gauge_in: float | None = None
    price: float = 90.0
    says_balance: bool = True
    says_growth: bool = True


@dataclass(frozen=True)
class Design:
    """One shaft of a line.

    Attributes
    ----------
    line : Line
        The line.
    key, flex, label : str
        Key, the maker's flex word, weight class as in the model name.
    number : str or None
        Club number, for shafts sold for one club.
    blank : Blank
        The raw shaft.
    setup : Setup
        The usual club it goes in.
    """

    line: Line
    key: str
    flex: str
    label: str
    number: str | None
    blank: Blank
    setup: Setup


def tuned(line: Line, weight_g: float, target_cpm: float, setup: Setup, raw_in: float | None = None) -> Blank:
    """A graphite shaft of a line that comes out at a frequency in a club.

    Parameters
    ----------
    line : Line
        The line.
    weight_g : float
        Raw weight, g.
    target_cpm : float
        Frequency, cpm.
    setup : Setup
        The club.
    raw_in : float or None
        Raw length; that of the line where None.
    """
    blank = graphite(line.raw_in if raw_in is None else raw_in, weight_g, line.outside, line.layup)
    return blank.scaled((target_cpm / frequency_cpm(blank, setup)) ** 2)


def members(line: Line, setup: Setup, rows: Sequence[tuple[str, str, float, float]]) -> list[Design]:
    """Shafts of a graphite line.

    Parameters
    ----------
    line : Line
        The line.
    setup : Setup
        The club they are tuned in.
    rows : sequence of (weight class, flex word, raw weight in g, frequency in cpm)
        One shaft each.
    """
    return [
        Design(
            line,
            f"{line.key}-{label}-{flex.lower().replace(' ', '-')}",
            flex,
            label,
            None,
            tuned(line, weight, cpm, setup),
            setup,
        )
        for label, flex, weight, cpm in rows
    ]
