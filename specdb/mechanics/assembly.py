"""From catalogue records to a club that can be computed: one shaft model, one build, and what was assumed."""

from __future__ import annotations

from dataclasses import dataclass

from specdb.errors import BuildError, MissingDataError
from specdb.mechanics import constants, defaults, swingweight
from specdb.mechanics.club import Build
from specdb.mechanics.constants import IN
from specdb.mechanics.cut import Bored, Cut, bored, cut
from specdb.mechanics.estimated import EstimatedProfiles
from specdb.mechanics.profile import ShaftModel
from specdb.mechanics.shaft_table import ShaftTable
from specdb.records.rows import Adapter, Ferrule, Grip, Head, Shaft, ShaftReading, Sleeve


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """A club as catalogue records and trade units.

    Attributes
    ----------
    shaft, readings, head, adapter, sleeve, ferrule, grip
        Records; None where there is none.
    estimates : EstimatedProfiles or None
        An estimate of the shaft, where there is one.
    model : ShaftModel or None
        The very piece of shaft, where it is known; it takes the place of any piece of the shaft.
    model_said : str
        What the model is, in a plain sentence for the list of what was assumed.
    tip_trim_in : float
        Cut off the tip, in.
    insertion_in : float or None
        How deep the tip sits, in; the full bore depth where None.
    playing_length_in : float
        Finished length, in.
    swingweight : str or None
        Swingweight to restore by weight at the head, such as ``D2.5``.
    head_add_g : float or None
        Weight added at the head, g; counts only where no swingweight is to be restored.
    max_head_add_g : float or None
        Most weight that may be added at the head, g; None: no limit.
    clamp_in : float
        Clamped length of butt for frequency, in.
    """

    shaft: Shaft
    readings: tuple[ShaftReading, ...] = ()
    estimates: EstimatedProfiles | None = None
    model: ShaftModel | None = None
    model_said: str = ""
    head: Head
    adapter: Adapter | None = None
    sleeve: Sleeve | None = None
    ferrule: Ferrule | None = None
    grip: Grip | None = None
    tip_trim_in: float = 0.0
    insertion_in: float | None = None
    playing_length_in: float
    swingweight: str | None = None
    head_add_g: float | None = None
    max_head_add_g: float | None = None
    clamp_in: float = constants.CLAMP_IN


@dataclass(frozen=True, slots=True)
class Assembly:
    """A club ready for :func:`specdb.mechanics.club.installed`.

    Attributes
    ----------
    model : ShaftModel
        The raw shaft.
    build : Build
        The rest of the club, SI.
    cut : Cut
        Lengths, in.
    tip_trim_in, butt_trim_in : float
        What comes off the raw shaft, in.
    target_moment_in_oz : float or None
        Swing moment that is restored.
    assumed : tuple of str
        What was assumed, in plain sentences.
    """

    model: ShaftModel
    build: Build
    cut: Cut
    tip_trim_in: float
    butt_trim_in: float
    target_moment_in_oz: float | None
    assumed: tuple[str, ...]


def head_cg_in(head: Head, hole: Bored) -> tuple[float, str | None]:
    """Centre of gravity of a head beyond the mouth of the bore (in), and what was assumed about it.

    Parameters
    ----------
    head : Head
        The head; its centre of gravity is told from the mouth of the hosel.
    hole : Bored
        The bore, its own or that of its adapter.
    """
    if head.cg_below_mouth_in is not None:
        return head.cg_below_mouth_in + hole.above_hosel_in, None
    wood = head.club_type in ("wood", "hybrid")
    value = constants.HEAD_CG_WOOD_IN if wood else constants.HEAD_CG_IRON_IN
    said = f"centre of gravity of the head unknown: {value:g} in beyond the mouth taken"
    return value + hole.above_hosel_in, said


def _grip(grip: Grip | None, assumed: list[str]) -> tuple[float, float, float]:
    """Weight (g), balance point from the cap (in) and its standard deviation."""
    if grip is None:
        assumed.append("no grip named: weight, swingweight and MOI are without a grip")
        return 0.0, 0.0, 0.0
    if grip.weight_g is None:
        raise MissingDataError(f"the weight of grip {grip.id} is unknown", ["grip.weight_g"])
    if grip.cap_in is None:
        assumed.append("thickness of the grip cap unknown: 0 in taken")
    if grip.balance_from_cap_in is not None:
        return grip.weight_g, grip.balance_from_cap_in, 0.0
    length = grip.length_in
    if length is None:
        length = constants.GRIP_LENGTH_IN
        assumed.append(f"length of the grip unknown: {length:g} in taken")
    assumed.append(f"balance point of the grip unknown: {constants.GRIP_BALANCE_FRACTION:g} of its length taken")
    return grip.weight_g, constants.GRIP_BALANCE_FRACTION * length, defaults.GRIP_BALANCE_SD_IN


def _mouth_g(parts: Parts, assumed: list[str]) -> float:
    total = 0.0
    named = (("adapter", parts.adapter), ("sleeve", parts.sleeve), ("ferrule", parts.ferrule))
    for name, part in named:
        if part is None:
            continue
        if part.weight_g is None:
            assumed.append(f"weight of {name} {part.id} unknown: not counted")
        else:
            total += part.weight_g
    return total


def make_build(parts: Parts) -> tuple[Build, Cut, float | None, list[str]]:
    """The club but for its shaft.

    Parameters
    ----------
    parts : Parts
        The club; its shaft is not looked at.

    Returns
    -------
    build : Build
        In SI.
    lengths : Cut
        In inches.
    target_in_oz : float or None
        Swing moment to restore.
    assumed : list of str
        What was assumed.

    Raises
    ------
    BuildError, MissingDataError
        If the club cannot be built as asked, or a measurement is missing.
    """
    assumed: list[str] = []
    head = parts.head
    if head.weight_g is None:
        raise MissingDataError(f"the weight of head {head.id} is unknown", ["head.weight_g"])
    hole = bored(head, parts.adapter)
    lengths = cut(hole, parts.playing_length_in, parts.insertion_in, parts.grip)
    if lengths.above_bottom_in > 1e-6:
        assumed.append(
            f"the tip sits {lengths.above_bottom_in:.3g} in above the bottom of the bore: "
            "the cut length is shorter by that much"
        )
    free = lengths.exposed_length_in - parts.clamp_in
    if parts.clamp_in <= 0 or free < 5.0:
        raise BuildError(
            f"a clamp of {parts.clamp_in:g} in leaves {free:.2f} in of free shaft: at least 5 in are needed"
        )
    cg, said = head_cg_in(head, hole)
    if said:
        assumed.append(said)
    grip_g, grip_balance, grip_balance_sd = _grip(parts.grip, assumed)
    target = None if parts.swingweight is None else swingweight.to_moment_in_oz(parts.swingweight)
    added = 0.0 if target is not None or parts.head_add_g is None else parts.head_add_g
    small_sd = defaults.SMALL_PART_SD_G if (parts.adapter or parts.sleeve or parts.ferrule) else 0.0
    build = Build(
        cut_length_m=lengths.cut_length_in * IN,
        insertion_m=lengths.insertion_in * IN,
        clamp_m=parts.clamp_in * IN,
        head_kg=(head.weight_g + added) / 1000.0,
        head_cg_m=cg * IN,
        mouth_kg=_mouth_g(parts, assumed) / 1000.0,
        grip_kg=grip_g / 1000.0,
        grip_balance_m=grip_balance * IN,
        grip_cap_m=lengths.grip_cap_in * IN,
        head_added_kg=added / 1000.0,
        target_moment_kg_m=None if target is None else target * constants.IN_OZ,
        max_add_kg=None if parts.max_head_add_g is None else parts.max_head_add_g / 1000.0,
        head_kg_sd=defaults.HEAD_WEIGHT_SD_G / 1000.0,
        mouth_kg_sd=small_sd / 1000.0,
        grip_kg_sd=(defaults.GRIP_WEIGHT_SD_G if parts.grip else 0.0) / 1000.0,
        cut_length_sd_m=defaults.LENGTH_SD_IN * IN,
        grip_balance_sd_m=grip_balance_sd * IN,
        head_cg_sd_m=(0.0 if said is None else defaults.HEAD_CG_SD_IN) * IN,
    )
    return build, lengths, target, assumed


def assemble(parts: Parts) -> Assembly:
    """Bring a club to numbers.

    Parameters
    ----------
    parts : Parts
        The club.

    Raises
    ------
    BuildError
        If the club cannot be built: shaft too short (the sentence says by how much), nothing left outside.
    MissingDataError
        If a measurement that the computation needs is missing.
    """
    build, lengths, target, assumed = make_build(parts)
    model, of_shaft = _shaft_model(parts)
    raw_in = model.raw_length_m / IN
    butt_trim = lengths.butt_trim_in(raw_in, parts.tip_trim_in)
    if butt_trim < -1e-6:
        raise BuildError(
            f"shaft {parts.shaft.id} is {raw_in:g} in long and this build needs "
            f"{parts.tip_trim_in + lengths.cut_length_in:.3f} in: it is too short by {-butt_trim:.3f} in"
        )
    return Assembly(
        model=model,
        build=build,
        cut=lengths,
        tip_trim_in=parts.tip_trim_in,
        butt_trim_in=max(butt_trim, 0.0),
        target_moment_in_oz=target,
        assumed=(*of_shaft, *assumed),
    )


def _shaft_model(parts: Parts) -> tuple[ShaftModel, list[str]]:
    """The raw shaft, and what was assumed about it."""
    said = [parts.model_said] if parts.model_said else []
    if parts.model is not None:
        return parts.model, said
    table = ShaftTable.from_records([parts.shaft], parts.readings)
    if parts.estimates is not None:
        table = table.with_estimates(parts.estimates)
    return table.model(0), [*said, *table.assumed(0)]
