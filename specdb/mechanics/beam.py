"""Exact bending of a cantilever with varying stiffness and mass, and a head on a rigid link.

Euler-Bernoulli beam, small deflection. ``s`` runs from the free end (the mouth) to the clamp face. The head is
a point mass without inertia of its own on a rigid, massless link beyond the mouth; adapter and ferrule are a
point mass at the mouth; what sits in the bore moves with the link as a rigid body. The lowest bending mode is
found by successive integration (Stodola-Vianello): the inertia load ``m·y`` is integrated to shear, to moment,
divided by EI, integrated to slope and to deflection, until the shape repeats. Rayleigh's quotient of the last
two shapes then is exact to rounding, since its error is the square of the shape's.

References
----------
Timoshenko, Young & Weaver, *Vibration Problems in Engineering*, 4th ed., chapter 5 (lateral vibration of
beams; iteration and Rayleigh's quotient).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.errors import MechanicsError
from specdb.mechanics.mesh import GAUSS_W, GAUSS_X, from_high, from_low, nodes_of, totals

FloatArray = npt.NDArray[np.float64]
# a quantity along a beam: a function of the distance from the free end (m), or values at the edges, linear
# between
Along = Callable[[FloatArray], FloatArray] | npt.ArrayLike

_SHAPE_TOLERANCE = 1e-10  # Rayleigh's quotient then is good to its square
_MAX_SWEEPS = 200
_NEWTON_STEPS = 50
_CUTS = 4


@dataclass(frozen=True, slots=True)
class Span:
    """B cantilevers on Gauss nodes; segments outside the free span have zero ``half``.

    Attributes
    ----------
    half : ndarray, shape (B, S)
        Half-lengths of the segments, m.
    u : ndarray, shape (B, S, N)
        Distance of the nodes from the free end, m.
    ei : ndarray, shape (B, S, N)
        Bending stiffness, N·m².
    """

    half: FloatArray
    u: FloatArray
    ei: FloatArray


@dataclass(frozen=True, slots=True)
class RigidBody:
    """What moves with the free end of B cantilevers as a rigid body: the piece of shaft in the bore.

    Attributes
    ----------
    mass, first, second : ndarray, shape (B,)
        Mass (kg), and its first (kg·m) and second moment (kg·m²) about the free end, outward.
    """

    mass: FloatArray
    first: FloatArray
    second: FloatArray

    def kinetic(self, tip: FloatArray, slope: FloatArray) -> FloatArray:
        """``∫ y² dm`` for a deflection and an outward slope of the free end, shape (B,)."""
        total: FloatArray = self.mass * tip**2 + 2.0 * self.first * tip * slope + self.second * slope**2
        return total


@dataclass(frozen=True, slots=True)
class Mode:
    """Lowest bending mode of B cantilevers, scaled so that the head moves by 1.

    Attributes
    ----------
    omega2 : ndarray, shape (B,)
        Squared angular frequency, rad²/s².
    shape : ndarray, shape (B, S, N)
        Deflection at the nodes.
    moment : ndarray, shape (B, S, N)
        Bending moment at the nodes, N·m per unit of head deflection.
    face_moment : ndarray, shape (B,)
        Bending moment at the clamp face.
    tip, tip_slope : ndarray, shape (B,)
        Deflection and outward slope (1/m) at the free end.
    kinetic : ndarray, shape (B,)
        ``∫m y² + Σ M y²``; equals ``∫EI κ²/ω²``.
    """

    omega2: FloatArray
    shape: FloatArray
    moment: FloatArray
    face_moment: FloatArray
    tip: FloatArray
    tip_slope: FloatArray
    kinetic: FloatArray


def lowest_mode(
    span: Span,
    mass: FloatArray,
    tip_kg: FloatArray,
    head_kg: FloatArray,
    link_m: FloatArray,
    body: RigidBody | None = None,
) -> Mode:
    """Lowest bending mode.

    Parameters
    ----------
    span : Span
        The cantilevers.
    mass : ndarray, shape (B, S, N)
        Mass per length at the nodes, kg/m.
    tip_kg, head_kg : ndarray, shape (B,)
        Point masses at the free end and at the head, kg.
    link_m : ndarray, shape (B,)
        Head beyond the free end, m.
    body : RigidBody or None
        What else moves with the free end.

    Returns
    -------
    Mode

    Raises
    ------
    MechanicsError
        If the iteration does not settle (a mass or stiffness that is no number, or not positive).

    References
    ----------
    Timoshenko, Young & Weaver, chapter 5.
    """
    nothing = np.zeros_like(head_kg)
    loads = _Loads(mass, tip_kg, head_kg, link_m, body or RigidBody(nothing, nothing, nothing))
    slope, tip_slope = from_high(span.u / span.ei, span.half)
    shape, tip = from_high(slope, span.half)
    head = tip + link_m * tip_slope
    shape, tip, tip_slope = shape / head[:, None, None], tip / head, tip_slope / head
    for _ in range(_MAX_SWEEPS):
        mode = _sweep(span, loads, shape, tip, tip_slope)
        change = np.abs(mode.shape - shape).max(initial=0.0)
        if change < _SHAPE_TOLERANCE:
            return mode
        shape, tip, tip_slope = mode.shape, mode.tip, mode.tip_slope
    raise MechanicsError("the lowest bending mode was not found: mass and stiffness must be positive numbers")


@dataclass(frozen=True, slots=True)
class _Loads:
    mass: FloatArray
    tip_kg: FloatArray
    head_kg: FloatArray
    link_m: FloatArray
    body: RigidBody


def _sweep(span: Span, loads: _Loads, shape: FloatArray, tip: FloatArray, tip_slope: FloatArray) -> Mode:
    """One round of integration from a shape (head at 1) to the next."""
    half, tip_kg, head_kg, body = span.half, loads.tip_kg, loads.head_kg, loads.body
    force = body.mass * tip + body.first * tip_slope
    turning = body.first * tip + body.second * tip_slope
    shear, _ = from_low(loads.mass * shape, half)
    shear += (head_kg + tip_kg * tip + force)[:, None, None]
    moment, face = from_low(shear, half)
    couple = head_kg * loads.link_m + turning
    moment += couple[:, None, None]
    slope, new_slope = from_high(moment / span.ei, half)
    new, new_tip = from_high(slope, half)
    new_head = new_tip + loads.link_m * new_slope
    inertia = loads.mass * new
    work = totals(inertia * shape, half).sum(axis=1) + tip_kg * new_tip * tip + head_kg * new_head
    work += force * new_tip + turning * new_slope
    kinetic = totals(inertia * new, half).sum(axis=1) + tip_kg * new_tip**2 + head_kg * new_head**2
    kinetic += body.kinetic(new_tip, new_slope)
    scale = 1.0 / new_head
    new *= scale[:, None, None]
    moment *= scale[:, None, None]
    return Mode(
        omega2=work / kinetic,
        shape=new,
        moment=moment,
        face_moment=(face + couple) * scale,
        tip=new_tip * scale,
        tip_slope=new_slope * scale,
        kinetic=kinetic * scale**2,
    )


def kick_point_root(
    chord: FloatArray,
    edge_u: FloatArray,
    edge_slope: FloatArray,
    ei_in: Callable[[npt.NDArray[np.int64]], Callable[[FloatArray], FloatArray]],
) -> tuple[FloatArray, npt.NDArray[np.int64], FloatArray, FloatArray]:
    """Where the slope of cantilevers pulled at their free end equals the slope of the chord.

    Parameters
    ----------
    chord : ndarray, shape (B,)
        Slope of the chord per newton, rad/N.
    edge_u : ndarray, shape (B, S + 1)
        Ends of the segments from the free end, m; those beyond the free span must repeat its ends.
    edge_slope : ndarray, shape (B, S + 1)
        Slope at them per newton, decreasing, rad/N.
    ei_in : callable
        Given an index of segments, shape (B,), a function: EI (N·m²), shape (B, N), at places of shape (B, N) in them.

    Returns
    -------
    u : ndarray, shape (B,)
        The place, m from the free end.
    segment : ndarray of int, shape (B,)
        The segment it lies in.
    node, weight : ndarray, shape (B, N)
        Gauss rule from the place to the high end of its segment.
    """
    segment = np.clip((edge_slope > chord[:, None]).sum(axis=1) - 1, 0, edge_u.shape[1] - 2)
    ei_at = ei_in(segment)
    beam = np.arange(len(segment))
    low, high = edge_u[beam, segment], edge_u[beam, segment + 1]
    top = edge_slope[beam, segment + 1]
    u = 0.5 * (low + high)
    for _ in range(_NEWTON_STEPS):
        half = 0.5 * (high - u)
        node = (u + half)[:, None] + half[:, None] * GAUSS_X
        slope = top + ((node / ei_at(node)) @ GAUSS_W) * half
        # slope falls with u everywhere, at the rate u/EI
        step = (slope - chord) * ei_at(u[:, None])[:, 0] / u
        moved = np.clip(u + step, low + 1e-6 * (high - low), high)
        settled = np.abs(moved - u) <= 1e-13 * high
        u = moved
        if settled.all():
            break
    half = 0.5 * (high - u)
    node = (u + half)[:, None] + half[:, None] * GAUSS_X
    return u, segment, node, half[:, None] * GAUSS_W


# --- one beam by itself -----------------------------------------------------------------------------------


def _edges(edge_m: npt.ArrayLike) -> FloatArray:
    edge = np.asarray(edge_m, dtype=np.float64)
    if edge.ndim != 1 or edge.size < 2 or not np.isfinite(edge).all() or float(np.diff(edge).min()) <= 0:
        raise MechanicsError("a beam needs two edges or more, strictly increasing from its free end to its clamp")
    if edge[0] != 0.0:
        raise MechanicsError("distances start at the free end: the first edge of a beam must be 0")
    return edge


def _function(value: Along, edge: FloatArray) -> Callable[[FloatArray], FloatArray]:
    """The quantity as a function of the distance from the free end."""
    if callable(value):
        given = value
        return lambda place: np.asarray(given(place), dtype=np.float64) * np.ones_like(place)
    table = np.broadcast_to(np.asarray(value, dtype=np.float64), edge.shape)
    return lambda place: np.interp(place, edge, table)


def _finer(edge: FloatArray) -> FloatArray:
    """Some more cuts, for stiffness that changes by a large factor within a piece, shape (1, any)."""
    step = np.diff(edge)[:, None] * (np.arange(_CUTS) / _CUTS)
    return np.append((edge[:-1, None] + step).ravel(), edge[-1])[None, :]


def _span(edge: FloatArray, ei: Callable[[FloatArray], FloatArray]) -> Span:
    node = nodes_of(edge)
    stiffness = ei(node)
    if not np.isfinite(stiffness).all() or float(stiffness.min()) <= 0:
        raise MechanicsError("bending stiffness must be positive everywhere")
    return Span(0.5 * np.diff(edge, axis=1), node, stiffness)


def fundamental_frequency(
    edge_m: npt.ArrayLike,
    ei_n_m2: Along,
    mass_kg_m: Along,
    *,
    tip_kg: float = 0.0,
    head_kg: float = 0.0,
    link_m: float = 0.0,
) -> float:
    """Frequency of the lowest bending mode of one cantilever.

    Parameters
    ----------
    edge_m : array_like, shape (E,)
        Ends of the pieces in which stiffness and mass are smooth, m from the free end; the first is 0, the
        last is the clamp face.
    ei_n_m2 : callable or array_like, shape (E,)
        Bending stiffness, N·m²: a function of the distance from the free end, or values at the edges with
        straight lines between them.
    mass_kg_m : callable or array_like, shape (E,)
        Mass per length, kg/m, given likewise.
    tip_kg : float
        Point mass at the free end, kg.
    head_kg : float
        Point mass on a rigid link beyond the free end, kg.
    link_m : float
        Length of that link, m.

    Returns
    -------
    float
        Frequency, Hz.

    Raises
    ------
    MechanicsError
        If the edges do not increase from 0, or stiffness or mass is not positive.

    References
    ----------
    Timoshenko, Young & Weaver, *Vibration Problems in Engineering*, chapter 5.
    """
    edge = _edges(edge_m)
    span = _span(_finer(edge), _function(ei_n_m2, edge))
    mass = _function(mass_kg_m, edge)(span.u)
    if not np.isfinite(mass).all() or float(mass.min()) < 0:
        raise MechanicsError("mass per length must not be negative")
    mode = lowest_mode(span, mass, np.array([tip_kg]), np.array([head_kg]), np.array([link_m]))
    return float(np.sqrt(mode.omega2[0]) / (2.0 * np.pi))


@dataclass(frozen=True, slots=True)
class Deflection:
    """Static deflection of one cantilever by a side load.

    Attributes
    ----------
    load_m : float
        Deflection at the load, m.
    tip_m : float
        Deflection at the free end, m.
    tip_slope : float
        Slope at the free end, rad.
    """

    load_m: float
    tip_m: float
    tip_slope: float


def static_deflection(edge_m: npt.ArrayLike, ei_n_m2: Along, force_n: float, *, load_at_m: float = 0.0) -> Deflection:
    """Deflection of one cantilever by a side load.

    Parameters
    ----------
    edge_m : array_like, shape (E,)
        Ends of the pieces in which stiffness is smooth, m from the free end to the clamp face.
    ei_n_m2 : callable or array_like, shape (E,)
        Bending stiffness, N·m², as in :func:`fundamental_frequency`.
    force_n : float
        The load, N.
    load_at_m : float
        Its place, m from the free end.

    Returns
    -------
    Deflection

    Raises
    ------
    MechanicsError
        If the edges do not increase from 0, stiffness is not positive, or the load does not act on the free
        span.

    References
    ----------
    Unit-load theorem, ``δ = ∫ M m/EI``: Timoshenko & Gere, *Mechanics of Materials*, chapter on deflections.
    """
    edge = _edges(edge_m)
    if not 0.0 <= load_at_m < edge[-1]:
        raise MechanicsError(f"the load at {load_at_m} m does not act between the free end and the clamp")
    cut = _finer(np.unique(np.append(edge, load_at_m)))
    span = _span(cut, _function(ei_n_m2, edge))
    half, node, ei = span.half, span.u, span.ei
    arm = np.maximum(node - load_at_m, 0.0)
    curvature = force_n * arm / ei
    at_load = totals(curvature * arm, half).sum()
    at_tip = totals(curvature * node, half).sum()
    return Deflection(float(at_load), float(at_tip), float(totals(curvature, half).sum()))


def kick_point(edge_m: npt.ArrayLike, ei_n_m2: Along) -> float:
    """Place of the largest distance to the chord of one cantilever pulled at its free end.

    Parameters
    ----------
    edge_m : array_like, shape (E,)
        Ends of the pieces in which stiffness is smooth, m from the free end to the clamp face.
    ei_n_m2 : callable or array_like, shape (E,)
        Bending stiffness, N·m², as in :func:`fundamental_frequency`.

    Returns
    -------
    float
        Percent of the free length, from the free end; 100/√3 for a uniform beam.

    Raises
    ------
    MechanicsError
        If the edges do not increase from 0, or stiffness is not positive.
    """
    edge = _edges(edge_m)
    ei = _function(ei_n_m2, edge)
    cut = _finer(edge)
    span = _span(cut, ei)
    piece = totals(span.u / span.ei, span.half)
    slope = np.append(np.cumsum(piece[:, ::-1], axis=1)[:, ::-1], [[0.0]], axis=1)
    chord = totals(span.u**2 / span.ei, span.half).sum(axis=1) / edge[-1]
    u, *_ = kick_point_root(chord, cut, slope, lambda _: ei)
    return float(100.0 * u[0] / edge[-1])
