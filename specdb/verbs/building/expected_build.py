"""What a club should come out at when it is measured: as it was fitted, or as the build that it is works out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.catalogue import Catalogue, Reader
from specdb.orders.as_built import Aim, ClubFacts

if TYPE_CHECKING:
    from specdb.verbs.building.as_built import Finished
    from specdb.verbs.clubs.clubs import NamedClub


@dataclass(frozen=True, slots=True)
class Expectation:
    """What a club should come out at.

    Attributes
    ----------
    named : NamedClub
        The build.
    aims : mapping of str to Aim
        By quantity.
    facts : ClubFacts
        What advice needs to know.
    clamp_in : float
        Clamped length of butt that the frequency is for, in.
    built : mapping of str to float
        What it is built to, as the frequency keeps it: fields of ``as_built``.
    """

    named: NamedClub
    aims: Mapping[str, Aim]
    facts: ClubFacts
    clamp_in: float
    built: Mapping[str, float]


def expected_of(catalogue: Catalogue, finished: Finished) -> tuple[Mapping[str, Aim], ClubFacts]:
    """What each quantity of a club should come out at, and what advice needs to know about it.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    finished : Finished
        Which club.
    """
    with catalogue.read() as reader:
        found = expectation(reader, finished)
    return found.aims, found.facts


def expectation(reader: Reader, finished: Finished) -> Expectation:
    """What a club should come out at, of an open catalogue.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    finished : Finished
        Which club.
    """
    from specdb.mechanics.assembly import assemble
    from specdb.mechanics.constants import GRAM, IN
    from specdb.verbs.building.prepared_build import SheetRequest, aimed_moment_in_oz, prepared_build
    from specdb.verbs.clubs.fitted_angles import fitted_angles

    request = SheetRequest(
        finished.club, finished.shaft, finished.tip_trim_in, finished.order, finished.line, finished.unit
    )
    prepared = prepared_build(reader, request, piece=finished.piece, clamp_in=finished.clamp_in)
    record, named, numbers = prepared.record, prepared.club, prepared.values
    sd = numbers["sd"]
    build = assemble(named.parts()).build
    head = named.head
    loft, lie = fitted_angles(reader, record)
    aims = {
        "length": Aim(record.playing_length_in),
        "weight": Aim(numbers["total_weight_g"], sd["total_weight_g"] or 0.0),
        "swingweight": Aim(aimed_moment_in_oz(record, numbers)),
        "frequency": Aim(numbers["frequency_cpm"], sd["frequency_cpm"] or 0.0),
        "loft": Aim(loft),
        "lie": Aim(lie),
        "grip_size": Aim(None),
        "head_weight": Aim(
            None if head.weight_g is None else head.weight_g + numbers["head_add_g"], sd["head_add_g"] or 0.0
        ),
    }
    arm = (build.grip_cap_m + build.cut_length_m - build.insertion_m + build.head_cg_m) / IN
    built = {name: numbers[name] for name in ("tip_trim_in", "insertion_in", "cut_length_in")}
    built |= {"mouth_g": build.mouth_kg / GRAM, "head_g": (head.weight_g or 0.0) + numbers["head_add_g"]}
    built |= {} if head.cg_below_mouth_in is None else {"head_cg_in": build.head_cg_m / IN}
    facts = ClubFacts(arm, numbers["head_add_g"], head.max_bend_deg)
    return Expectation(named, aims, facts, numbers["clamp_in"], built)
