"""Derivatives of every output by every uncertain input, with the weight that restores the swingweight.

* Integrals of ``φ/EI``: ``∂/∂ln EI_j = -∫ φ·EI_j·h_j/EI²`` with ``h_j`` the hat function of station ``j``.
* Frequency, from Rayleigh's quotient, which is stationary in the shape: ``δω²/ω² = ∫δEI κ²/U - δT/T`` with
  ``U = ∫EI κ²`` and ``T = ∫m y² + Σ M y²``; the clamp face moving outward by ``δ`` lowers ``ω²`` by
  ``EI κ²·δ/T`` at the face (Hadamard's formula for a clamped end).
* Kick point, implicitly: the slope there equals the slope of the chord.
* Chain rule: where weight at the head restores the swing moment, that weight depends on the other masses and
  arms.

References
----------
Rayleigh's quotient and its stationarity: Rayleigh, *The Theory of Sound*, §88-89.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.mechanics.build import FULCRUM_M
from specdb.mechanics.constants import CPM_PER_HZ, GRAM, IN, IN_OZ, KG_CM2
from specdb.mechanics.mass import cut_mass
from specdb.mechanics.mesh import GAUSS_W, totals
from specdb.mechanics.solution import Solution, body_in_bore

FloatArray = npt.NDArray[np.float64]

FEATURES = (
    "frequency_cpm",
    "tip_ei",
    "mid_ei",
    "butt_ei",
    "torque_deg",
    "shaft_weight_g",
    "balance_in",
    "kick_point_pct",
    "total_weight_g",
    "moi_kg_cm2",
)
OUTPUTS = (*FEATURES, "tip_compliance_mm_per_n", "head_add_g", "head_excess_g", "swing_moment_in_oz")
SHAFT_INPUTS = ("mass", "balance", "twist")
BUILD_INPUTS = ("head", "mouth", "grip", "length", "head_cg", "grip_balance")
INPUTS = (*SHAFT_INPUTS, *BUILD_INPUTS)
_AT = {name: i for i, name in enumerate(INPUTS)}
_ROW = {name: i for i, name in enumerate(OUTPUTS)}
# rows of the table of integrals that depend on EI
_ZONE, _FREE, _GAUGE, _SLOPE, _SAG, _STRAIN = slice(0, 3), 3, 4, 5, 6, 7


@dataclass(frozen=True, slots=True)
class Jacobian:
    """Derivatives of the outputs, in the units of ``OUTPUTS``.

    Attributes
    ----------
    log_ei : ndarray, shape (B, outputs, J)
        By ln EI at the stations.
    inputs : ndarray, shape (B, outputs, inputs)
        By the scalar inputs, SI, in the order of ``INPUTS``.
    """

    log_ei: FloatArray
    inputs: FloatArray


def jacobian(solution: Solution, values: FloatArray) -> Jacobian:
    """Derivatives of the outputs.

    Parameters
    ----------
    solution : Solution
        The clubs, B of them.
    values : ndarray, shape (B, outputs)
        The outputs, in the order of ``OUTPUTS``.

    Returns
    -------
    Jacobian
    """
    return Jacobian(_by_log_ei(solution, values), _by_inputs(solution, values))


def _hat_integrals(solution: Solution) -> FloatArray:
    """``∫ φ·EI_j·h_j/EI² ds`` for the eight integrals, shape (B, 8, J)."""
    mesh, kick, shafts = solution.mesh, solution.kick, solution.shafts
    base = GAUSS_W * mesh.half[:, :, None] / mesh.ei**2
    upper = base * mesh.part
    u = solution.span.u
    shapes = (None, u, u * u, solution.mode.moment**2)
    free = solution.free
    segments = np.arange(mesh.half.shape[1])
    stations = np.arange(shafts.station_m.shape[1])
    out = np.zeros((mesh.half.shape[0], 8, stations.size))
    for shift, weight in ((0, base - upper), (1, upper)):
        one, slope, sag, strain = (
            weight.sum(axis=2) if s is None else np.einsum("bsn,bsn->bs", weight, s) for s in shapes
        )
        rows = np.empty((mesh.half.shape[0], 8, segments.size))
        for k in range(3):
            rows[:, k] = np.where(solution.thirds[k], one, 0.0)
        rows[:, _FREE] = np.where(free, one, 0.0)
        rows[:, _GAUGE] = np.where(solution.gauge, one, 0.0)
        rows[:, _SLOPE] = np.where(kick.beyond, slope, 0.0)
        rows[:, _SAG] = np.where(free, sag, 0.0)
        rows[:, _STRAIN] = np.where(free, strain, 0.0)
        scatter = (mesh.below[:, :, None] + shift == stations).astype(np.float64)
        out += rows @ scatter
    # the piece between the kick point and the end of its segment
    piece = kick.weight * kick.node_u / kick.node_ei**2
    each = np.arange(out.shape[0])
    out[each, _SLOPE, kick.below] += (piece * (1.0 - kick.part)).sum(axis=1)
    out[each, _SLOPE, kick.below + 1] += (piece * kick.part).sum(axis=1)
    out *= shafts.ei_n_m2[:, None, :]
    return out


def _by_log_ei(solution: Solution, values: FloatArray) -> FloatArray:
    hat = _hat_integrals(solution)
    kick, mode, free_length = solution.kick, solution.mode, solution.builds.free
    out = np.zeros((values.shape[0], len(OUTPUTS), hat.shape[2]))

    def put(name: str, factor: FloatArray, rows: FloatArray) -> None:
        out[:, _ROW[name]] = factor[:, None] * rows

    strain = mode.omega2 * mode.kinetic
    put("frequency_cpm", 0.5 * values[:, _ROW["frequency_cpm"]] / strain, hat[:, _STRAIN])
    zone = solution.flexibility_over(solution.thirds)
    for k, name in enumerate(("tip_ei", "mid_ei", "butt_ei")):
        put(name, values[:, _ROW[name]] / zone[k], hat[:, k])
    by_gauge = hat[:, _GAUGE] / solution.flexibility_over(solution.gauge)[:, None]
    by_free = hat[:, _FREE] / solution.flexibility_over(solution.free)[:, None]
    put("torque_deg", values[:, _ROW["torque_deg"]], by_gauge - by_free)
    put(
        "kick_point_pct",
        100.0 * kick.ei / (kick.u * free_length),
        hat[:, _SAG] / free_length[:, None] - hat[:, _SLOPE],
    )
    put("tip_compliance_mm_per_n", np.full(values.shape[0], -1e3), hat[:, _SAG])
    return out


def _column(count: int, **entries: FloatArray | float) -> FloatArray:
    """Derivatives of one quantity by the inputs, shape (B, inputs), zero where not named."""
    out = np.zeros((count, len(INPUTS)))
    for name, value in entries.items():
        out[:, _AT[name]] = value
    return out


@dataclass(frozen=True, slots=True)
class _Parts:
    """Derivatives of masses, moments and arms by the inputs, each of shape (B, inputs)."""

    mass: FloatArray
    first: FloatArray
    second: FloatArray
    head: FloatArray
    head_arm: FloatArray
    mouth: FloatArray
    mouth_arm: FloatArray
    grip: FloatArray
    grip_arm: FloatArray


def _parts_by_inputs(solution: Solution) -> _Parts:
    shafts, builds, mass = solution.shafts, solution.builds, solution.mass
    count, whole = mass.mass.size, shafts.mass_kg
    a, c = solution.mass_line
    tilted = cut_mass(*shafts.mass_line_by_balance, solution.end - builds.cut_length, builds.cut_length)
    return _Parts(
        mass=_column(count, mass=mass.mass / whole, balance=tilted.mass, length=a + c * solution.end),
        first=_column(count, mass=mass.first / whole, balance=tilted.first, length=mass.mass),
        second=_column(count, mass=mass.second / whole, balance=tilted.second, length=2.0 * mass.first),
        head=_column(count, head=1.0),
        head_arm=_column(count, length=1.0, head_cg=1.0),
        mouth=_column(count, mouth=1.0),
        mouth_arm=_column(count, length=1.0),
        grip=_column(count, grip=1.0),
        grip_arm=_column(count, grip_balance=1.0),
    )


def _moment_by_inputs(solution: Solution, by: _Parts) -> FloatArray:
    """Derivatives of the swing moment with nothing added (kg·m)."""
    builds, parts = solution.builds, solution.parts
    result: FloatArray = (
        by.first
        + (builds.cap[:, None] - FULCRUM_M) * by.mass
        + by.head * (parts.head_arm[:, None] - FULCRUM_M)
        + builds.head_kg[:, None] * by.head_arm
        + by.mouth * (parts.mouth_arm[:, None] - FULCRUM_M)
        + parts.mouth_kg[:, None] * by.mouth_arm
        + by.grip * (parts.grip_arm[:, None] - FULCRUM_M)
        + parts.grip_kg[:, None] * by.grip_arm
    )
    return result


def _inertia_by_inputs(solution: Solution, by: _Parts, heavy: FloatArray) -> FloatArray:
    """Derivatives of the moment of inertia (kg·m²); ``heavy``: those of the head with its added weight."""
    parts, cap = solution.parts, solution.builds.cap[:, None]
    result: FloatArray = by.second + 2.0 * cap * by.first + cap**2 * by.mass
    for kg, arm, by_kg, by_arm in (
        (parts.head_kg, parts.head_arm, heavy, by.head_arm),
        (parts.mouth_kg, parts.mouth_arm, by.mouth, by.mouth_arm),
        (parts.grip_kg, parts.grip_arm, by.grip, by.grip_arm),
    ):
        result += (arm**2)[:, None] * by_kg + 2.0 * (kg * arm)[:, None] * by_arm
    return result


def _by_inputs(solution: Solution, values: FloatArray) -> FloatArray:
    restored, mass = solution.restored, solution.mass
    by = _parts_by_inputs(solution)
    lever = solution.parts.head_arm[:, None] - FULCRUM_M
    by_moment = _moment_by_inputs(solution, by)
    by_wanted = -(by_moment + restored.wanted_kg[:, None] * by.head_arm) / lever
    by_add = np.where(restored.free[:, None], by_wanted, 0.0)
    heavy = by.head + by_add
    balance = mass.balance_from_butt_m[:, None]
    rows = {
        "shaft_weight_g": by.mass / GRAM,
        "balance_in": (by.first - balance * by.mass) / mass.mass[:, None] / IN,
        "total_weight_g": (by.mass + heavy + by.mouth + by.grip) / GRAM,
        "head_add_g": by_add / GRAM,
        "head_excess_g": np.where(restored.excess_kg[:, None] > 0.0, -by_wanted, 0.0) / GRAM,
        "swing_moment_in_oz": (by_moment + lever * by_add + restored.add_kg[:, None] * by.head_arm) / IN_OZ,
        "moi_kg_cm2": _inertia_by_inputs(solution, by, heavy) / KG_CM2,
        "frequency_cpm": _frequency_by_inputs(solution, heavy),
    }
    out = np.zeros((values.shape[0], len(OUTPUTS), len(INPUTS)))
    for name, row in rows.items():
        out[:, _ROW[name]] = row
    _stiffness_by_inputs(solution, values, out)
    return out


def _frequency_by_inputs(solution: Solution, heavy: FloatArray) -> FloatArray:
    """Derivatives of the frequency (cpm), shape (B, inputs); ``heavy``: those of the head with its added weight."""
    mode, mesh, half = solution.mode, solution.mesh, solution.span.half
    square = mode.shape**2
    level = totals(square, half).sum(axis=1)
    slant = totals(square * mesh.node, half).sum(axis=1)
    a, c = solution.mass_line
    a_by, c_by = solution.shafts.mass_line_by_balance
    in_bore = solution.in_bore.kinetic(mode.tip, mode.tip_slope)
    shifted = body_in_bore(a_by, c_by, solution.mouth, solution.builds.insertion)
    face_ei = solution.shafts.ei_at(solution.face[:, None])[:, 0]
    by_kinetic = _column(
        heavy.shape[0],
        mass=(a * level + c * slant + in_bore) / solution.shafts.mass_kg,
        balance=a_by * level + c_by * slant + shifted.kinetic(mode.tip, mode.tip_slope),
        mouth=mode.tip**2,
        length=mode.face_moment**2 / face_ei / mode.omega2,
        head_cg=2.0 * solution.parts.head_kg * mode.tip_slope,
    )
    by_kinetic += heavy  # the head moves by 1
    cpm = CPM_PER_HZ * np.sqrt(mode.omega2) / (2.0 * np.pi)
    result: FloatArray = -0.5 * (cpm / mode.kinetic)[:, None] * by_kinetic
    return result


def _stiffness_by_inputs(solution: Solution, values: FloatArray, out: FloatArray) -> None:
    """Derivatives of zone stiffness, torque, kick point and compliance by cut length and twist rating."""
    builds, kick, shafts = solution.builds, solution.kick, solution.shafts
    length, twist, free_length = _AT["length"], _AT["twist"], builds.free
    third = builds.exposed / 3.0
    corners = solution.mouth[:, None] + third[:, None] * np.arange(4.0)
    flexible = 1.0 / shafts.ei_at(np.concatenate([corners, solution.face[:, None]], axis=1))
    zone = solution.flexibility_over(solution.thirds)
    for k, name in enumerate(("tip_ei", "mid_ei", "butt_ei")):
        grows = ((k + 1) * flexible[:, k + 1] - k * flexible[:, k]) / 3.0
        out[:, _ROW[name], length] = (1.0 / 3.0 - values[:, _ROW[name]] * grows) / zone[k]
    face = flexible[:, 4]
    torque = values[:, _ROW["torque_deg"]]
    out[:, _ROW["torque_deg"], length] = torque * face / solution.flexibility_over(solution.free)
    out[:, _ROW["torque_deg"], twist] = torque / shafts.twist
    moves = kick.compliance * kick.ei / (kick.u * free_length**2)
    out[:, _ROW["kick_point_pct"], length] = 100.0 * (moves - kick.u / free_length) / free_length
    out[:, _ROW["tip_compliance_mm_per_n"], length] = 1e3 * free_length**2 * face
