"""The cut, glued and clamped shaft solved: everything the outputs and their sensitivities are made of, SI.

One mesh of the raw shaft, cut at its stations and at every place that matters (mouth, clamp face, thirds of
the exposed length, gauge span), serves all integrals. The free span is the part from the mouth to the clamp
face.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.mechanics.beam import Mode, RigidBody, Span, kick_point_root, lowest_mode
from specdb.mechanics.build import FULCRUM_M, BuildBatch
from specdb.mechanics.mass import CutMass, PointMasses, Restored, cut_mass, restore, swing_moment
from specdb.mechanics.mesh import ShaftMesh, mesh_shafts, totals
from specdb.mechanics.profile import ShaftBatch

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Kick:
    """Shafts pulled by 1 N at the mouth.

    Attributes
    ----------
    compliance : ndarray, shape (B,)
        Deflection at the mouth, m/N.
    u : ndarray, shape (B,)
        Kick point, m from the mouth.
    ei : ndarray, shape (B,)
        EI there, N·m².
    beyond : ndarray of bool, shape (B, S)
        Segments wholly between kick point and clamp face.
    below : ndarray of int, shape (B,)
        Station below the kick point.
    node_u, weight, node_ei, part : ndarray, shape (B, N)
        Gauss rule from the kick point to the end of its segment: distance from the mouth (m), weight (m), EI
        (N·m²), place between the two stations.
    """

    compliance: FloatArray
    u: FloatArray
    ei: FloatArray
    beyond: BoolArray
    below: IntArray
    node_u: FloatArray
    weight: FloatArray
    node_ei: FloatArray
    part: FloatArray


@dataclass(frozen=True, slots=True)
class Solution:
    """B clubs solved.

    Attributes
    ----------
    shafts, builds, mesh
        What was solved.
    mouth, face, end : ndarray, shape (B,)
        Mouth, clamp face and butt end of the cut shaft, m from the raw tip end.
    free : ndarray of bool, shape (B, S)
        Segments from mouth to clamp face.
    thirds : ndarray of bool, shape (3, B, S)
        Segments of the tip, middle and butt third of the exposed length.
    gauge : ndarray of bool, shape (B, S)
        Segments of the gauge span.
    flexibility : ndarray, shape (B, S)
        ``∫ds/EI`` of each segment, 1/(N·m).
    mass, mass_line, parts, restored, moment
        Cut shaft, its mass line, the other parts with weight added at the head, the restoring, the swing
        moment before it (kg·m).
    in_bore : RigidBody
        The piece of shaft in the bore, about the mouth.
    span, mode, kick
        Bending.
    """

    shafts: ShaftBatch
    builds: BuildBatch
    mesh: ShaftMesh
    mouth: FloatArray
    face: FloatArray
    end: FloatArray
    free: BoolArray
    thirds: BoolArray
    gauge: BoolArray
    flexibility: FloatArray
    mass: CutMass
    mass_line: tuple[FloatArray, FloatArray]
    parts: PointMasses
    restored: Restored
    moment: FloatArray
    span: Span
    in_bore: RigidBody
    mode: Mode
    kick: Kick

    def flexibility_over(self, inside: BoolArray) -> FloatArray:
        """``∫ds/EI`` over marked segments, 1/(N·m).

        Parameters
        ----------
        inside : ndarray of bool, shape (..., B, S)
            The segments.

        Returns
        -------
        ndarray, shape (..., B)
        """
        total: FloatArray = np.where(inside, self.flexibility, 0.0).sum(axis=-1)
        return total


def solve(shafts: ShaftBatch, tip_trim: FloatArray, builds: BuildBatch) -> Solution:
    """Solve clubs.

    Parameters
    ----------
    shafts : ShaftBatch
        Raw shafts, B of them.
    tip_trim : ndarray, shape (B,)
        What is cut off their tips, m.
    builds : BuildBatch
        The rest of each club.

    Returns
    -------
    Solution

    Raises
    ------
    MechanicsError
        If the lowest bending mode is not found.
    """
    mouth = tip_trim + builds.insertion
    end = tip_trim + builds.cut_length
    face = end - builds.clamp
    third = builds.exposed / 3.0
    corners = np.stack([mouth, mouth + third, mouth + 2.0 * third, end])
    low = np.minimum(mouth, shafts.twist_from_m)
    high = np.maximum(end, shafts.twist_to_m)
    places = np.stack([*corners, face, shafts.twist_from_m, shafts.twist_to_m], axis=1)
    mesh = mesh_shafts(shafts, low, high, places)
    free = mesh.within(mouth, face)
    mass_line = shafts.mass_line
    mass = cut_mass(*mass_line, tip_trim, builds.cut_length)
    in_bore = body_in_bore(*mass_line, mouth, builds.insertion)
    bare = PointMasses(
        builds.head_kg,
        builds.head_arm,
        builds.mouth_kg,
        builds.mouth_arm,
        builds.grip_kg,
        builds.grip_balance,
    )
    moment = swing_moment(mass, builds.cap, bare, FULCRUM_M)
    restored = restore(moment, builds.target, builds.head_arm - FULCRUM_M, builds.limit)
    head = builds.head_kg + restored.add_kg
    span = Span(np.where(free, mesh.half, 0.0), mesh.node - mouth[:, None, None], mesh.ei)
    a, c = mass_line
    line = a[:, None, None] + c[:, None, None] * mesh.node
    return Solution(
        shafts=shafts,
        builds=builds,
        mesh=mesh,
        mouth=mouth,
        face=face,
        end=end,
        free=free,
        thirds=np.stack([mesh.within(corners[k], corners[k + 1]) for k in range(3)]),
        gauge=mesh.within(shafts.twist_from_m, shafts.twist_to_m),
        flexibility=totals(1.0 / mesh.ei, mesh.half),
        mass=mass,
        mass_line=mass_line,
        parts=PointMasses(head, bare.head_arm, bare.mouth_kg, bare.mouth_arm, bare.grip_kg, bare.grip_arm),
        restored=restored,
        moment=moment,
        span=span,
        in_bore=in_bore,
        mode=lowest_mode(span, line, builds.mouth_kg, head, builds.head_cg, in_bore),
        kick=_kick(shafts, mesh, span, mouth, builds.free),
    )


def body_in_bore(a: FloatArray, c: FloatArray, mouth_m: FloatArray, insertion_m: FloatArray) -> RigidBody:
    """The piece of shaft that sits in the bore, about the mouth.

    Parameters
    ----------
    a, c : ndarray, shape (B,)
        Mass per length ``a + c·s``, kg/m and kg/m².
    mouth_m, insertion_m : ndarray, shape (B,)
        Place of the mouth, and how deep the tip sits behind it, m.

    Returns
    -------
    RigidBody
        Linear in ``a`` and ``c``.
    """
    piece = cut_mass(a, c, mouth_m - insertion_m, insertion_m)
    return RigidBody(piece.mass, piece.first, piece.second)


def _kick(shafts: ShaftBatch, mesh: ShaftMesh, span: Span, mouth: FloatArray, free_length: FloatArray) -> Kick:
    bending = span.u / span.ei
    compliance = totals(bending * span.u, span.half).sum(axis=1)
    piece = totals(bending, span.half)
    edge_slope = np.zeros((piece.shape[0], piece.shape[1] + 1))
    edge_slope[:, :-1] = np.cumsum(piece[:, ::-1], axis=1)[:, ::-1]
    edge_u = np.clip(mesh.edge - mouth[:, None], 0.0, free_length[:, None])

    club = np.arange(len(mouth))
    only_one = (shafts.count == 1)[:, None]

    def parts_of(segment: IntArray) -> Callable[[FloatArray], FloatArray]:
        below = mesh.below[club, segment]
        start = shafts.station_m[club, below]
        step = shafts.station_m[club, below + 1] - start
        before = (mouth - start)[:, None]
        return lambda u: np.where(only_one, 0.0, np.clip((before + u) / step[:, None], 0.0, 1.0))

    def ei_in(segment: IntArray) -> Callable[[FloatArray], FloatArray]:
        below, part_at = mesh.below[club, segment], parts_of(segment)
        low = shafts.ei_n_m2[club, below]
        rise = shafts.ei_n_m2[club, below + 1] - low
        return lambda u: low[:, None] + part_at(u) * rise[:, None]

    u, segment, node, weight = kick_point_root(compliance / free_length, edge_u, edge_slope, ei_in)
    ei_at = ei_in(segment)
    index = np.arange(mesh.half.shape[1])
    return Kick(
        compliance=compliance,
        u=u,
        ei=ei_at(u[:, None])[:, 0],
        beyond=(index > segment[:, None]) & (span.half > 0.0),
        below=mesh.below[club, segment],
        node_u=node,
        weight=weight,
        node_ei=ei_at(node),
        part=parts_of(segment)(node),
    )
