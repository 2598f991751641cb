"""What the bench reads on raw shafts: frequency, static deflection, three-point bending.

Coordinates as everywhere: metres from the raw tip end. Nothing is trimmed and nothing is glued: the shaft is
clamped at a stated place of its butt, with a clip-on mass at the very tip or a load along the free span.

References
----------
Three-point bending of a uniform beam, ``EI = P·L³/(48·δ)``: Timoshenko & Gere, *Mechanics of Materials*,
table of deflections of simple beams. On a varying shaft that formula returns an average over the span,
computed here by the unit-load theorem.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from specdb.errors import MechanicsError
from specdb.mechanics.beam import Span, lowest_mode
from specdb.mechanics.constants import CPM_PER_HZ
from specdb.mechanics.mesh import ShaftMesh, mesh_shafts, totals
from specdb.mechanics.profile import ShaftBatch, ShaftModel

FloatArray = npt.NDArray[np.float64]

_ROUNDING_M = 1e-7


def _each(value: npt.ArrayLike, count: int, name: str) -> FloatArray:
    array = np.asarray(value, dtype=np.float64)
    if array.ndim > 1 or (array.ndim == 1 and array.size != count):
        raise MechanicsError(f"{count} shafts and {name} of shape {array.shape}: one for all or one for each")
    if array.size and not np.isfinite(array).all():
        raise MechanicsError(f"{name} must be finite")
    return np.broadcast_to(array, (count,))


def _free_span(batch: ShaftBatch, free_m: FloatArray, load_at_m: FloatArray) -> tuple[ShaftMesh, Span]:
    if free_m.size and (float(free_m.min()) <= 0 or bool((free_m > batch.raw_m + _ROUNDING_M).any())):
        raise MechanicsError("the free length must be positive and not longer than the raw shaft")
    low = np.zeros_like(free_m)
    mesh = mesh_shafts(batch, low, free_m, load_at_m[:, None])
    return mesh, Span(mesh.half, mesh.node, mesh.ei)


def frequency_reading(
    models: Sequence[ShaftModel], free_length_m: npt.ArrayLike, tip_mass_kg: npt.ArrayLike
) -> FloatArray:
    """Frequency of raw shafts with a clip-on mass at the very tip.

    Parameters
    ----------
    models : sequence of ShaftModel
        Raw shafts, B of them.
    free_length_m : array_like, shape (B,) or scalar
        From the tip end to the clamp face, m.
    tip_mass_kg : array_like, shape (B,) or scalar
        The mass, kg; may be zero.

    Returns
    -------
    ndarray, shape (B,)
        Frequency, cpm.

    Raises
    ------
    MechanicsError
        If a free length is not on the shaft, or a mass is negative.
    """
    batch = ShaftBatch.of(models)
    free = _each(free_length_m, len(models), "free lengths")
    tip = _each(tip_mass_kg, len(models), "tip masses")
    if tip.size and float(tip.min()) < 0:
        raise MechanicsError("a tip mass must not be negative")
    mesh, span = _free_span(batch, free, free)
    a, c = batch.mass_line
    line = a[:, None, None] + c[:, None, None] * mesh.node
    nothing = np.zeros_like(tip)
    mode = lowest_mode(span, line, tip, nothing, nothing)
    return CPM_PER_HZ * np.sqrt(mode.omega2) / (2.0 * np.pi)


def deflection_reading(
    models: Sequence[ShaftModel],
    free_length_m: npt.ArrayLike,
    force_n: npt.ArrayLike,
    load_at_m: npt.ArrayLike = 0.0,
) -> FloatArray:
    """Deflection of raw shafts at a load.

    Parameters
    ----------
    models : sequence of ShaftModel
        Raw shafts, B of them.
    free_length_m : array_like, shape (B,) or scalar
        From the tip end to the clamp face, m.
    force_n : array_like, shape (B,) or scalar
        The load, N.
    load_at_m : array_like, shape (B,) or scalar
        Its place, m from the tip end.

    Returns
    -------
    ndarray, shape (B,)
        Deflection at the load, m, linear theory.

    Raises
    ------
    MechanicsError
        If a free length is not on the shaft, or a load does not act on the free span.
    """
    count = len(models)
    batch = ShaftBatch.of(models)
    free = _each(free_length_m, count, "free lengths")
    force = _each(force_n, count, "loads")
    load_at = _each(load_at_m, count, "places of the load")
    if bool(((load_at < 0) | (load_at >= free)).any()):
        raise MechanicsError("the load must act between the tip end and the clamp face")
    _, span = _free_span(batch, free, load_at)
    arm = np.maximum(span.u - load_at[:, None, None], 0.0)
    result: FloatArray = force * totals(arm**2 / span.ei, span.half).sum(axis=1)
    return result


def three_point_ei(models: Sequence[ShaftModel], station_m: npt.ArrayLike, span_m: npt.ArrayLike) -> FloatArray:
    """Stiffness that a three-point bending jig reads on raw shafts.

    Parameters
    ----------
    models : sequence of ShaftModel
        Raw shafts, B of them.
    station_m : array_like, shape (B,) or scalar
        Middle of the span, where the load acts, m from the tip end.
    span_m : array_like, shape (B,) or scalar
        Distance between the supports, m.

    Returns
    -------
    ndarray, shape (B,)
        ``P·L³/(48·δ)``, N·m²: an average over the span, not a value at the station.

    Raises
    ------
    MechanicsError
        If a support does not lie on the shaft.
    """
    count = len(models)
    batch = ShaftBatch.of(models)
    middle = _each(station_m, count, "stations")
    span = _each(span_m, count, "spans")
    low, high = middle - 0.5 * span, middle + 0.5 * span
    if bool(((span <= 0) | (low < -_ROUNDING_M) | (high > batch.raw_m + _ROUNDING_M)).any()):
        raise MechanicsError("both supports of the bending jig must lie on the shaft")
    mesh = mesh_shafts(batch, low, high, middle[:, None])
    support = np.minimum(mesh.node - low[:, None, None], high[:, None, None] - mesh.node)
    # half the load goes to each support: moment P·x/2, so δ = ∫ P·(x/2)²/EI
    compliance = totals((0.5 * support) ** 2 / mesh.ei, mesh.half).sum(axis=1)
    result: FloatArray = span**3 / (48.0 * compliance)
    return result
