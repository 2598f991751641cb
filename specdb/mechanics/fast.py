"""Fast features of many cut shafts in one club: one matrix product a tip trim.

All integrals over the cut shaft are products of the table of cell means of 1/EI (``cells.py``) with weights that
depend on the query only; since a tip trim of whole cells shifts the table, all trims share one weight matrix.

Frequency: Rayleigh's quotient with the deflection under a unit load at the head as trial shape, so that ``ω² = δ_hh /
(Σ mᵢ wᵢ δᵢ² + m_mouth δ_m² + ∫(δ_m + θ_m x)² dm_bore + M δ_hh²)``, with the distributed mass on Gauss nodes and the
piece in the bore as a rigid body (Rayleigh, *The Theory of Sound*, §89; Blevins, *Formulas for Natural Frequency and
Mode Shape*). It is an upper bound, within 0.05 % with a head on. The head is a point mass on a rigid link beyond the
mouth.

Kick point: the slope of the shaft pulled at the mouth equals the chord's slope there; inverse quadratic interpolation
between three places.

It serves to screen; results that a person sees come from the exact solution.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.mechanics.build import FULCRUM_M
from specdb.mechanics.cells import CELL_M, CellTable
from specdb.mechanics.club import FEATURES, Build
from specdb.mechanics.constants import FT_LB, IN

FloatArray = npt.NDArray[np.float64]
Float32Array = npt.NDArray[np.float32]

_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(4)
_KICK_AT = (0.39, 0.44, 0.49)  # of the free length, from the clamp


@dataclass(frozen=True, slots=True)
class FastShafts:
    """What screening needs of N shafts.

    Attributes
    ----------
    cells : CellTable
        Cell means of 1/EI.
    mass_a, mass_c : ndarray of float32, shape (N,)
        Mass line ``a + c·s``, kg/m and kg/m².
    twist_per_flexibility : ndarray of float32, shape (N,)
        Twist of the raw shaft per N·m over its gauge, divided by ``∫ ds/EI`` over that gauge (rad/(N·m) per 1/(N·m));
        NaN where torque is unknown.
    """

    cells: CellTable
    mass_a: Float32Array
    mass_c: Float32Array
    twist_per_flexibility: Float32Array


@dataclass(frozen=True, slots=True)
class FastQuery:
    """Weights of one club: everything that does not depend on the shaft.

    Attributes
    ----------
    weights : ndarray of float32, shape (cells of the cut shaft, columns)
        Integral weights over cells counted from the new tip end.
    node_m : ndarray, shape (4,)
        Gauss nodes of the free length, metres from the new tip end.
    node_w : ndarray, shape (4,)
        Their weights, m.
    """

    build: Build
    weights: Float32Array
    node_m: FloatArray
    node_w: FloatArray

    @property
    def free_m(self) -> float:
        """Free length, clamp face to mouth."""
        return self.build.cut_length_m - self.build.clamp_m - self.build.insertion_m


def _moments(edges: FloatArray, low: float, high: float, order: int) -> list[FloatArray]:
    """Integrals of ``x**k`` over each cell clipped to [low, high], for k = 0 … order."""
    clipped = np.clip(edges, low, high)
    return [np.diff(clipped ** (k + 1)) / (k + 1) for k in range(order + 1)]


def prepare(build: Build) -> FastQuery:
    """Weights of a club.

    Parameters
    ----------
    build : Build
        The club but for its shaft (SI).
    """
    mouth, face, end = build.insertion_m, build.cut_length_m - build.clamp_m, build.cut_length_m
    free, link = face - mouth, build.head_cg_m
    count = int(np.ceil(end / CELL_M - 1e-9))
    edges: FloatArray = np.arange(count + 1, dtype=np.float64) * CELL_M
    # u: distance from the clamp face towards the tip; moment of a unit load at the head is (free + link - u)
    u_edges: FloatArray = np.asarray(face - edges[::-1], dtype=np.float64)

    def column(limit: float, reach: float) -> FloatArray:
        """Weights of ``∫₀^limit (limit - u)(reach - u)/EI du`` a cell, in order of the tip."""
        m0, m1, m2 = _moments(u_edges, 0.0, limit, 2)
        return np.asarray(limit * reach * m0 - (limit + reach) * m1 + m2)[::-1]

    node_u = free * (1.0 + _GAUSS_X) / 2.0
    columns = [column(u, free + link) for u in node_u]
    m0, m1, m2 = _moments(u_edges, 0.0, free, 2)
    reach = free + link
    columns.append((reach * reach * m0 - 2.0 * reach * m1 + m2)[::-1])
    columns.append(column(free, reach))
    third = (end - mouth) / 3.0
    columns += [_moments(edges, mouth + k * third, mouth + (k + 1) * third, 0)[0] for k in range(3)]
    columns.append(_moments(edges, mouth, face, 0)[0])
    for part in _KICK_AT:
        k0, k1 = _moments(u_edges, 0.0, part * free, 1)
        columns.append((free * k0 - k1)[::-1])
    columns.append(column(free, free))
    columns.append((reach * m0 - m1)[::-1])  # slope at the mouth under a unit load at the head
    weights = np.stack(columns, axis=1)
    return FastQuery(build, weights.astype(np.float32), face - node_u, _GAUSS_W * free / 2.0)


def _mass_scalars(trim: float, end: float) -> tuple[float, ...]:
    """Integrals of 1, s over the cut span, and of x, x² weighted likewise, x from the butt end of the shaft."""
    s1, s2 = trim, trim + end
    d1, d2, d3, d4 = (s2**k - s1**k for k in (1, 2, 3, 4))
    zero_a, zero_c = d1, d2 / 2.0
    first_a, first_c = s2 * d1 - d2 / 2.0, s2 * d2 / 2.0 - d3 / 3.0
    second_a = s2 * s2 * d1 - s2 * d2 + d3 / 3.0
    second_c = s2 * s2 * d2 / 2.0 - 2.0 * s2 * d3 / 3.0 + d4 / 4.0
    return zero_a, zero_c, first_a, first_c, second_a, second_c


def features(
    shafts: FastShafts, rows: slice | npt.NDArray[np.int64], query: FastQuery, trim_cells: int
) -> tuple[Float32Array, Float32Array]:
    """Features of shafts in the club with one tip trim.

    Parameters
    ----------
    shafts : FastShafts
        The shafts.
    rows : slice or ndarray of int
        Which of them.
    query : FastQuery
        From :func:`prepare`.
    trim_cells : int
        Tip trim in cells of ``CELL_M``.

    Returns
    -------
    features : ndarray of float32, shape (features, rows)
        In the order of ``FEATURES``; NaN for torque where it is unknown.
    head_over_kg : ndarray of float32, shape (rows,)
        How far over the target the club is at the head with nothing added (kg at the head), else 0.
    """
    build = query.build
    stop = trim_cells + query.weights.shape[0]
    g = (shafts.cells.mean[rows, trim_cells:stop] @ query.weights).T
    a, c = shafts.mass_a[rows], shafts.mass_c[rows]
    trim = trim_cells * CELL_M
    cap = build.grip_cap_m
    za, zc, fa, fc, sa, sc = (np.float32(v) for v in _mass_scalars(trim, build.cut_length_m))
    mass, first, second = a * za + c * zc, a * fa + c * fc, a * sa + c * sc
    add, over = _head_add(build, mass, first)
    head = np.float32(build.head_kg) + add
    out = np.empty((len(FEATURES), len(a)), dtype=np.float32)
    kinetic = head * g[4] * g[4] + np.float32(build.mouth_kg) * g[5] * g[5]
    ba, bc, b1a, b1c, b2a, b2c = (np.float32(v) for v in _mass_scalars(trim, build.insertion_m))
    kinetic += (a * ba + c * bc) * g[5] * g[5] + np.float32(2.0) * (a * b1a + c * b1c) * g[5] * g[14]
    kinetic += (a * b2a + c * b2c) * g[14] * g[14]
    for i in range(4):
        s = np.float32(trim + query.node_m[i])
        kinetic += (a + c * s) * np.float32(query.node_w[i]) * g[i] * g[i]
    out[0] = np.float32(60.0 / (2.0 * np.pi)) * np.sqrt(g[4] / kinetic)
    third = np.float32((build.cut_length_m - build.insertion_m) / 3.0)
    np.divide(third, g[6:9], out=out[1:4])
    out[4] = shafts.twist_per_flexibility[rows] * g[9] * np.float32(FT_LB * 180.0 / np.pi)
    out[5] = mass * np.float32(1000.0)
    out[6] = first / mass * np.float32(1.0 / IN)
    out[7] = _kick_point(g[10], g[11], g[12], g[13] / np.float32(query.free_m))
    parts = build.head_kg + build.mouth_kg + build.grip_kg
    out[8] = (mass + add + np.float32(parts)) * np.float32(1000.0)
    mouth_arm = cap + build.cut_length_m - build.insertion_m
    head_arm = mouth_arm + build.head_cg_m
    fixed = build.mouth_kg * mouth_arm**2 + build.grip_kg * build.grip_balance_m**2
    moi = second + np.float32(2 * cap) * first + np.float32(cap * cap) * mass
    out[9] = (moi + head * np.float32(head_arm**2) + np.float32(fixed)) * np.float32(1e4)
    return out, over


def _head_add(build: Build, mass: Float32Array, first: Float32Array) -> tuple[Float32Array, Float32Array]:
    if build.target_moment_kg_m is None:
        zero = np.zeros_like(mass)
        return zero, zero
    mouth_arm = build.grip_cap_m + build.cut_length_m - build.insertion_m - FULCRUM_M
    head_arm = mouth_arm + build.head_cg_m
    fixed = build.head_kg * head_arm + build.mouth_kg * mouth_arm + build.grip_kg * (build.grip_balance_m - FULCRUM_M)
    moment = first + mass * np.float32(build.grip_cap_m - FULCRUM_M) + np.float32(fixed)
    wanted = (np.float32(build.target_moment_kg_m) - moment) * np.float32(1.0 / head_arm)
    limit = np.float32(np.inf if build.max_add_kg is None else build.max_add_kg)
    return np.clip(wanted, np.float32(0.0), limit), np.maximum(-wanted, np.float32(0.0))


def _kick_point(t0: Float32Array, t1: Float32Array, t2: Float32Array, chord: Float32Array) -> Float32Array:
    """Percent of the free length from the mouth where the shaft's slope equals the chord's."""
    x0, x1, x2 = (np.float32(v) for v in _KICK_AT)
    l0 = (chord - t1) * (chord - t2) / ((t0 - t1) * (t0 - t2))
    l1 = (chord - t0) * (chord - t2) / ((t1 - t0) * (t1 - t2))
    l2 = np.float32(1.0) - l0 - l1
    return np.asarray((np.float32(1.0) - (l0 * x0 + l1 * x1 + l2 * x2)) * np.float32(100.0), dtype=np.float32)
