"""What is asked about a head that cannot be had, and what counts as one step of each difference.

The steps and costs are stated judgements (common practice, no source): a step is about what a player or a fitter would
remark on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from specdb.errors import UsageError
from specdb.fitup.limits import FitLimits
from specdb.fitup.question import Shelf
from specdb.mechanics import defaults
from specdb.records.rows import Head
from specdb.sets.members import SetMember


@dataclass(frozen=True, slots=True)
class HeadFeature:
    """One compared feature of a head, or of the club with it.

    Attributes
    ----------
    key, title, unit : str
        JSON key with its unit, and words for a person.
    step : float
        Difference that counts as one unit.
    decimals : int
        Decimals shown.
    """

    key: str
    title: str
    unit: str
    step: float
    decimals: int = 1


LOFT = HeadFeature("loft_deg", "loft", "°", 1.0)
LIE = HeadFeature("lie_deg", "lie", "°", 1.0)
FACE = HeadFeature("face_angle_deg", "face angle", "°", 1.0)
WEIGHT = HeadFeature("weight_g", "weight", "g", 4.0)
OFFSET = HeadFeature("offset_in", "offset", "in", 0.05, 3)
VOLUME = HeadFeature("volume_cc", "volume", "cc", 20.0, 0)
FREQUENCY = HeadFeature("frequency_cpm", "frequency", "cpm", 2.5)
SWING = HeadFeature("swingweight_points", "swingweight", "points", 1.0)
OF_HEAD = (LOFT, LIE, FACE, WEIGHT, OFFSET, VOLUME)
OF_CLUB = (FREQUENCY, SWING)

BEND_COST = 0.10  # score for one degree bent
ADD_COST = 0.01  # score for one gram of weight more than the fitted head takes
CONNECTION_COST = 0.10  # score for a glued head in the place of one with a connection, or the reverse
NUMBER_COST = 0.20  # score for a head with another number on its sole
MOST_LOFT_OFF_DEG = 2.0  # what is left of loft beyond this makes it another club
MOST_LIE_OFF_DEG = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadQuestion:
    """A head and what may stand in for it.

    Attributes
    ----------
    head : Head
        The head that is wanted.
    pool : tuple of Head
        Heads of the catalogue.
    shelf : Shelf
        Adapters, sleeves and ferrules with stock.
    member : SetMember or None
        The fitted club it belongs to; None: heads are compared alone.
    stock : mapping of str to int
        Free pieces by head.
    booked : bool
        Whether the shop books stock of heads.
    in_stock : bool
        Only heads that are on hand.
    top : int
        How many.
    max_head_add_g : float or None
        Most weight that may be added at the head; None: the usual limit.
    limits : FitLimits
        Of the fit-up check.
    """

    head: Head
    pool: tuple[Head, ...]
    shelf: Shelf = field(default_factory=Shelf)
    member: SetMember | None = None
    stock: Mapping[str, int] = field(default_factory=dict)
    booked: bool = False
    in_stock: bool = False
    top: int = 10
    max_head_add_g: float | None = None
    limits: FitLimits = field(default_factory=FitLimits)

    def __post_init__(self) -> None:
        if self.top < 1:
            raise UsageError("at least one result must be asked for")
        if self.max_head_add_g is not None and self.max_head_add_g < 0:
            raise UsageError("the weight that may be added at the head cannot be negative")
        if self.member is not None and self.member.parts.head.id != self.head.id:
            raise UsageError(
                f"club {self.member.club_id} has head {self.member.parts.head.id}, not {self.head.id}: "
                "name the head of that club, or leave it out"
            )

    @property
    def most_add_g(self) -> float:
        """Most weight that may be added at a head alone, g."""
        return defaults.MAX_HEAD_ADD_G if self.max_head_add_g is None else self.max_head_add_g
