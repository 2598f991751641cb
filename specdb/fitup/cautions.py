"""Every caution of the fit-up in one registry, by operation and by material.

They are reminders and no instructions: the makers' instructions, local codes and qualified practice come
first.
"""

from __future__ import annotations

from specdb.fitup.report import Operation

DEFER = (
    "The instructions of the shaft, head and adhesive makers, local codes and qualified practice come before "
    "anything said here."
)

BOND = (
    "Epoxy: gloves and eye protection, ventilation, no skin contact; abrade and degrease as the adhesive's "
    "maker says, and let it cure fully before the club is swung. A bond that is too short or too loose "
    "lets a head fly off."
)

_GRAPHITE_DUST = (
    "Carbon-fibre dust from cutting and abrading: respirator, extraction, gloves, eye protection; cut wet or "
    "with a vacuum at the blade."
)
_STEEL_DUST = (
    "Metal dust, sparks and sharp edges from cutting and abrading steel: respirator, eye protection, gloves, "
    "extraction; deburr the ends."
)
_GRAPHITE_HEAT = (
    "Never pull a graphite shaft with a flame: it ruins the shaft and gives off fumes; use controlled low "
    "heat. Lithium, magnesium and painted parts have limits of their own."
)
_STEEL_HEAT = (
    "Heat for pulling a steel shaft gives off fumes and spoils paint, plating and some alloys: least heat, "
    "ventilation, gloves. Lithium, magnesium and painted parts have limits of their own."
)

_SAME_G = 0.05  # what is written to a tenth of a gram

_MATERIAL = {
    "graphite": (_GRAPHITE_DUST, _GRAPHITE_HEAT),
    "steel": (_STEEL_DUST, _STEEL_HEAT),
    "composite": (_GRAPHITE_DUST, _STEEL_DUST, _GRAPHITE_HEAT),
}

_OPERATION = {
    Operation.TIP_TRIM: (
        "Tip trim cannot be undone and changes how the shaft plays: for the fitter to agree. Not beyond "
        "what the shaft's maker allows."
    ),
    Operation.OTHER_ADAPTER: (
        "Use only an adapter made for this connection, with its own screw, at the torque its maker states."
    ),
    Operation.REAM: (
        "Reaming can crack a hosel, cannot be undone, and voids most makers' warranties: a repair-grade "
        "measure, to be agreed with the customer. Clamp the head; eye protection and extraction for metal "
        "dust; measure the wall all round before and after."
    ),
    Operation.SLEEVE: (
        "A sleeve is a repair-grade measure, to be agreed with the customer. Bond it on both sides, "
        "abraded and degreased, over the whole insertion."
    ),
    Operation.LEAVE_OUT_SLEEVE: "Measure the bore before gluing; old adhesive in it changes the clearance.",
    Operation.SHALLOWER_INSERTION: (
        "A shallower insertion leaves less bond: never under the least depth; mark the depth on the shaft "
        "before gluing."
    ),
    Operation.OTHER_FERRULE: (
        "Seat the ferrule dry first and check its depth, so that it neither splits nor holds the head off its seat."
    ),
}

GRIP = (
    "Grip solvent and its vapour catch fire: ventilation, gloves, eye protection; no flame, spark or heater near; "
    "soaked rags in a closed metal can."
)

BENDING = (
    "Bending loft or lie can crack a head and voids most makers' warranties; some alloys must not be bent "
    "at all. Bend in a proper fixture, in small steps, inside the maker's limit, with eye protection."
)


def head_weight(add_g: float, limit_g: float) -> str:
    """The caution of more weight at the head than is usual; empty up to the limit.

    Parameters
    ----------
    add_g, limit_g : float
        What is to be added, and what is usual at most, g.
    """
    if add_g <= limit_g + _SAME_G:
        return ""
    return (
        f"{add_g:.1f} g at the head is more than the {limit_g:.0f} g that is usual at most: for the fitter to agree, "
        "and for the head's maker where it may go. In the tip it must not shorten the bond; what comes loose flies off."
    )


def dust(material: str | None) -> tuple[str, ...]:
    """Cautions of cutting and abrading a shaft; of graphite and of steel where the material is unknown.

    Parameters
    ----------
    material : str or None
        Of the shaft.
    """
    return tuple(text for text in _of_material(material) if text in (_GRAPHITE_DUST, _STEEL_DUST))


def metal_dust() -> str:
    """The caution of cutting metal: a hosel that is reamed, a steel shaft."""
    return _STEEL_DUST


def _of_material(material: str | None) -> tuple[str, ...]:
    return _MATERIAL.get(material or "", (*_MATERIAL["graphite"], *_MATERIAL["steel"]))


def for_operation(operation: Operation) -> str:
    """The caution that goes with an operation.

    Parameters
    ----------
    operation : Operation
        What is done.
    """
    return _OPERATION[operation]


def for_question(
    material: str | None, *, tip_trim: bool, sleeve: bool, adapter: bool, bending: bool
) -> tuple[str, ...]:
    """Cautions of a build as asked, each once: bond, dust and heat, then what the build itself brings.

    Parameters
    ----------
    material : str or None
        Of the shaft; where unknown, the cautions of graphite and of steel both apply.
    tip_trim, sleeve, adapter, bending : bool
        Whether the build has a tip trim, a sleeve, an adapter, a loft or lie to be bent.
    """
    texts = [BOND]
    texts += _of_material(material)
    own = (
        (tip_trim, Operation.TIP_TRIM),
        (sleeve, Operation.SLEEVE),
        (adapter, Operation.OTHER_ADAPTER),
    )
    texts += [_OPERATION[operation] for applies, operation in own if applies]
    if bending:
        texts.append(BENDING)
    return tuple(dict.fromkeys([*texts, DEFER]))
