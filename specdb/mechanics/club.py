"""The cut, glued and gripped club in numbers, many at once, each with its uncertainty.

Conventions: ``s`` from the raw tip end; the mouth at ``tip trim + insertion``; the shaft clamped rigidly over
the last part of its butt, without grip; the head a point mass on a rigid link beyond the mouth. The solution
is exact (successive integration on Gauss nodes); standard deviations are linearised from analytic
derivatives.

References
----------
The modules that this one joins name theirs: ``beam``, ``torsion``, ``mass``, ``sensitivity``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.errors import BuildError, MechanicsError
from specdb.mechanics.build import FULCRUM_M, Build, BuildBatch
from specdb.mechanics.constants import CPM_PER_HZ, GRAM, IN, IN_OZ, KG_CM2
from specdb.mechanics.mass import inertia_about_butt
from specdb.mechanics.profile import ShaftBatch, ShaftModel
from specdb.mechanics.sensitivity import BUILD_INPUTS, FEATURES, OUTPUTS, SHAFT_INPUTS, jacobian
from specdb.mechanics.solution import Solution, solve
from specdb.mechanics.torsion import installed_torque_deg

__all__ = ["FEATURES", "OUTPUTS", "Build", "Installed", "installed"]

FloatArray = npt.NDArray[np.float64]

_ROUNDING_M = 1e-7
_COUNT = len(FEATURES)


@dataclass(frozen=True, slots=True)
class Installed:
    """B clubs in trade units; every array has B rows.

    Attributes
    ----------
    frequency_cpm : ndarray, shape (B,)
        Lowest bending mode, cut shaft without grip, clamped.
    tip_compliance_mm_per_n : ndarray, shape (B,)
        Deflection at the mouth per newton there.
    torque_deg : ndarray, shape (B,)
        Twist from the mouth to the clamp face for 1 ft·lb; NaN where torque is unknown.
    kick_point_pct : ndarray, shape (B,)
        Largest distance to the chord, percent of the free length from the mouth.
    tip_ei_n_m2, mid_ei_n_m2, butt_ei_n_m2 : ndarray, shape (B,)
        Stiffness of the thirds of the exposed length, 1 / mean of 1/EI.
    shaft_weight_g, shaft_balance_from_butt_in : ndarray, shape (B,)
        Cut shaft, balance point from its butt end.
    head_add_g : ndarray, shape (B,)
        Weight added at the head, to restore the swing moment or as the build says.
    head_excess_g : ndarray, shape (B,)
        How much too heavy the club is at the head with nothing added, where it is over the target, else 0.
    head_short_g : ndarray, shape (B,)
        How much more would be wanted at the head than may be added, else 0.
    total_weight_g, swing_moment_in_oz, moi_butt_kg_cm2 : ndarray, shape (B,)
        Whole club, with the weight added.
    butt_trim_m, exposed_length_m : ndarray, shape (B,)
        What comes off the butt; length from the mouth to the butt end.
    extrapolated : ndarray, shape (B,)
        Fraction of the exposed length beyond the first or the last station, where EI is held constant.
    features : ndarray, shape (B, F)
        In the order of ``FEATURES``; NaN where unknown (torque).
    sd_shaft : ndarray, shape (B, F)
        Standard deviation of the features from what is not known about the shaft, including the weight at the
        head that follows from it; NaN without uncertainty asked for.
    sd_total : ndarray, shape (B, F)
        The same and what is not known about the rest of the club.
    cov_shaft : ndarray, shape (B, F, F)
        Covariance of the features from what is not known about the shaft; ``sd_shaft`` squared on its
        diagonal.
    other_sd : dict of str to ndarray, shape (B,)
        Standard deviation, shaft and build, of the outputs that are not features, by output name.
    """

    frequency_cpm: FloatArray
    tip_compliance_mm_per_n: FloatArray
    torque_deg: FloatArray
    kick_point_pct: FloatArray
    tip_ei_n_m2: FloatArray
    mid_ei_n_m2: FloatArray
    butt_ei_n_m2: FloatArray
    shaft_weight_g: FloatArray
    shaft_balance_from_butt_in: FloatArray
    head_add_g: FloatArray
    head_excess_g: FloatArray
    head_short_g: FloatArray
    total_weight_g: FloatArray
    swing_moment_in_oz: FloatArray
    moi_butt_kg_cm2: FloatArray
    butt_trim_m: FloatArray
    exposed_length_m: FloatArray
    extrapolated: FloatArray
    features: FloatArray
    sd_shaft: FloatArray
    sd_total: FloatArray
    cov_shaft: FloatArray
    other_sd: dict[str, FloatArray]


def installed(
    models: Sequence[ShaftModel],
    tip_trim_m: npt.ArrayLike,
    build: Build | Sequence[Build],
    *,
    with_sd: bool = True,
) -> Installed:
    """Work out clubs.

    Parameters
    ----------
    models : sequence of ShaftModel
        Raw shafts, B of them; one shaft may stand in it many times.
    tip_trim_m : array_like, shape (B,) or scalar
        What is cut off the tip, m.
    build : Build or sequence of Build
        The rest of the club, one for all or one for each.
    with_sd : bool
        Whether uncertainty is worked out; about half of the time.

    Returns
    -------
    Installed
        Also for B = 0.

    Raises
    ------
    BuildError
        If a shaft is too short for its build; the sentence says by how much.
    MechanicsError
        If numbers of shafts, trims and builds do not agree, or a trim is negative.
    """
    count = len(models)
    shafts = ShaftBatch.of(models)
    builds = BuildBatch.of(build, count)
    trim = np.asarray(tip_trim_m, dtype=np.float64)
    if trim.ndim > 1 or (trim.ndim == 1 and trim.size != count):
        raise MechanicsError(f"{count} shafts and tip trims of shape {trim.shape}: there must be one for each shaft")
    trim = np.broadcast_to(trim, (count,))
    butt_trim = _butt_trim(shafts, trim, builds)
    solution = solve(shafts, trim, builds)
    values = _outputs(solution)
    sd_shaft, sd_total, cov_shaft = _uncertainty(solution, values, with_sd)
    get = {name: values[:, i] for i, name in enumerate(OUTPUTS)}
    return Installed(
        frequency_cpm=get["frequency_cpm"],
        tip_compliance_mm_per_n=get["tip_compliance_mm_per_n"],
        torque_deg=get["torque_deg"],
        kick_point_pct=get["kick_point_pct"],
        tip_ei_n_m2=get["tip_ei"],
        mid_ei_n_m2=get["mid_ei"],
        butt_ei_n_m2=get["butt_ei"],
        shaft_weight_g=get["shaft_weight_g"],
        shaft_balance_from_butt_in=get["balance_in"],
        head_add_g=get["head_add_g"],
        head_excess_g=get["head_excess_g"],
        head_short_g=solution.restored.short_kg / GRAM,
        total_weight_g=get["total_weight_g"],
        swing_moment_in_oz=get["swing_moment_in_oz"],
        moi_butt_kg_cm2=get["moi_kg_cm2"],
        butt_trim_m=butt_trim,
        exposed_length_m=builds.exposed,
        extrapolated=_extrapolated(solution),
        features=values[:, :_COUNT],
        sd_shaft=sd_shaft[:, :_COUNT],
        sd_total=sd_total[:, :_COUNT],
        cov_shaft=cov_shaft[:, :_COUNT, :_COUNT],
        other_sd={name: sd_total[:, i] for i, name in enumerate(OUTPUTS) if i >= _COUNT},
    )


def shaft_derivatives(
    models: Sequence[ShaftModel], tip_trim_m: npt.ArrayLike, build: Build | Sequence[Build]
) -> tuple[FloatArray, FloatArray]:
    """Derivatives of the features by what is uncertain about the shaft.

    Parameters
    ----------
    models, tip_trim_m, build
        As in :func:`installed`; B clubs.

    Returns
    -------
    by_log_ei : ndarray, shape (B, F, J)
        By ln EI at the stations; zero for padding.
    by_inputs : ndarray, shape (B, F, 3)
        By mass (kg), balance point (m) and rated twist (rad/(N·m)) of the raw shaft.
    """
    shafts = ShaftBatch.of(models)
    builds = BuildBatch.of(build, len(models))
    trim = np.broadcast_to(np.asarray(tip_trim_m, dtype=np.float64), (len(models),))
    _butt_trim(shafts, trim, builds)
    solution = solve(shafts, trim, builds)
    found = jacobian(solution, _outputs(solution))
    return found.log_ei[:, :_COUNT], found.inputs[:, :_COUNT, : len(SHAFT_INPUTS)]


def _butt_trim(shafts: ShaftBatch, trim: FloatArray, builds: BuildBatch) -> FloatArray:
    if trim.size and not (np.isfinite(trim).all() and float(trim.min()) >= 0.0):
        raise MechanicsError("tip trims must be zero or positive")
    butt_trim = shafts.raw_m - trim - builds.cut_length
    short = np.flatnonzero(butt_trim < -_ROUNDING_M)
    if short.size:
        i = int(short[0])
        raise BuildError(
            f"shaft {i} of {trim.size} is {shafts.raw_m[i] / IN:.3f} in long and this build needs "
            f"{(trim[i] + builds.cut_length[i]) / IN:.3f} in: it is too short by {-butt_trim[i] / IN:.3f} in"
        )
    return np.maximum(butt_trim, 0.0)


def _outputs(solution: Solution) -> FloatArray:
    """All outputs in the order of ``OUTPUTS``, shape (B, outputs)."""
    builds, mass, parts, restored = solution.builds, solution.mass, solution.parts, solution.restored
    zones = (builds.exposed / 3.0) / solution.flexibility_over(solution.thirds)
    torque = installed_torque_deg(
        solution.shafts.twist,
        solution.flexibility_over(solution.gauge),
        solution.flexibility_over(solution.free),
    )
    moment = solution.moment + restored.add_kg * (parts.head_arm - FULCRUM_M)
    total = mass.mass + parts.head_kg + parts.mouth_kg + parts.grip_kg
    by_name = {
        "frequency_cpm": CPM_PER_HZ * np.sqrt(solution.mode.omega2) / (2.0 * np.pi),
        "tip_ei": zones[0],
        "mid_ei": zones[1],
        "butt_ei": zones[2],
        "torque_deg": torque,
        "shaft_weight_g": mass.mass / GRAM,
        "balance_in": mass.balance_from_butt_m / IN,
        "kick_point_pct": 100.0 * solution.kick.u / builds.free,
        "total_weight_g": total / GRAM,
        "moi_kg_cm2": inertia_about_butt(mass, builds.cap, parts) / KG_CM2,
        "tip_compliance_mm_per_n": 1e3 * solution.kick.compliance,
        "head_add_g": (restored.add_kg + builds.head_added) / GRAM,
        "head_excess_g": restored.excess_kg / GRAM,
        "swing_moment_in_oz": moment / IN_OZ,
    }
    return np.stack([by_name[name] for name in OUTPUTS], axis=1)


def _extrapolated(solution: Solution) -> FloatArray:
    shafts, low, high = solution.shafts, solution.mouth, solution.end
    first = shafts.station_m[:, 0]
    last = shafts.station_m[np.arange(len(shafts.count)), shafts.count - 1]
    known = np.maximum(np.minimum(high, last) - np.maximum(low, first), 0.0)
    outside: FloatArray = np.clip(1.0 - known / (high - low), 0.0, 1.0)
    return outside


def _uncertainty(solution: Solution, values: FloatArray, with_sd: bool) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Of all outputs: standard deviation from the shaft, from everything, covariance from the shaft."""
    shape = values.shape
    if not with_sd:
        return np.full(shape, np.nan), np.full(shape, np.nan), np.full((*shape, shape[1]), np.nan)
    derivative = jacobian(solution, values)
    shafts = solution.shafts
    split = len(SHAFT_INPUTS)
    sd = np.stack([shafts.mass_sd_kg, shafts.balance_sd_m, shafts.twist_sd], axis=1)
    scaled = derivative.inputs[:, :, :split] * sd[:, None, :]
    by_ei = derivative.log_ei
    covariance = by_ei @ shafts.log_ei_cov @ by_ei.transpose(0, 2, 1) + scaled @ scaled.transpose(0, 2, 1)
    # rounding can leave a variance a hair below zero
    variance = np.maximum(np.diagonal(covariance, axis1=1, axis2=2), 0.0)
    build = derivative.inputs[:, :, split : split + len(BUILD_INPUTS)] * solution.builds.sd[:, None, :]
    total = variance + (build**2).sum(axis=2)
    return np.sqrt(variance), np.sqrt(total), covariance
