"""What seven free-length frequencies can tell of a profile at best, whoever reads them.

Two answers that owe nothing to the estimator. First, the best linear estimate of one who has seen thousands of shafts
of the very kind that is tested, exactly, and so knows mean and covariance of profiles, readings and leaflets together:
a regression of ln EI at fine places on the logarithms of the readings and the figures of the leaflet. Second, the
information in the readings: how much they take away of the scatter of ln EI that is left once the leaflet is known,
from their sensitivities by the exact mechanics and that covariance, by Bayes' rule for normals.

References
----------
Best linear estimate and its error: Kay, *Fundamentals of Statistical Signal Processing*, vol. 1, sections 12.3 to 12.5.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from specdb.mechanics.bench import frequency_reading
from tests.profiles.reliability import pieces
from tests.profiles.truth import CLIP_G, FREE_LENGTHS_IN, Truth, frequencies

FloatArray = npt.NDArray[np.float64]

PLACES = 99  # along a shaft, a third each for tip, middle and butt
_AT = (np.arange(PLACES) + 0.5) / PLACES
_ZONES = 33  # in which EI is moved for sensitivities
_RIDGE = 1e-2  # of standardised figures: thousands of shafts make it all but nothing
OTHERS = "FGHIJKLMNO"  # sixty makers


@dataclass(frozen=True, slots=True)
class Known:
    """Pieces as they are and as they read, one row each."""

    log_ei: FloatArray  # (n, PLACES)
    read: FloatArray  # (n, 7) ln cpm
    leaflet: FloatArray  # (n, 4)
    maker: npt.NDArray[np.str_]
    steel: npt.NDArray[np.bool_]
    truths: list[Truth]


def draw(kind: str, makers: str, count: int, seed: int, noise: float = 0.005) -> Known:
    """Pieces of the makers of each letter, in equal parts."""
    truths = [t for k, m in enumerate(makers) for t in pieces(kind, m, count // len(makers), seed + k)]
    seven = frequencies(truths, np.random.default_rng(seed), noise)
    leaflet = [
        (np.log(s.weight_g or 1.0), np.log(s.torque_deg or 1.0), s.balance_from_tip_in or 0.0, s.raw_length_in or 0.0)
        for s in (t.shaft for t in truths)
    ]
    return Known(
        log_ei=np.array([np.log(t.model.ei(_AT * t.model.raw_length_m)) for t in truths]),
        read=np.log([[r.value for r in own] for own in seven]),
        leaflet=np.array(leaflet),
        maker=np.array([t.shaft.maker for t in truths]),
        steel=np.array([t.shaft.material == "steel" for t in truths]),
        truths=truths,
    )


def best_linear(taught: Known, tested: Known, *, maker_known: bool) -> FloatArray:
    """RMS relative error of EI by third of the best linear estimate, each material by itself.

    With ``maker_known`` the mean of each maker is known too.
    """
    error = np.zeros_like(tested.log_ei)
    for steel in np.unique(tested.steel):
        a, b = taught.steel == steel, tested.steel == steel
        seen, told = (np.hstack([k.read, k.leaflet])[rows] for k, rows in ((taught, a), (tested, b)))
        middle, spread = seen.mean(axis=0), seen.std(axis=0) + 1e-12
        seen, told = (seen - middle) / spread, (told - middle) / spread
        if maker_known:
            names = np.unique(taught.maker[a])
            seen = np.hstack([seen, taught.maker[a][:, None] == names])
            told = np.hstack([told, tested.maker[b][:, None] == names])
        mean = taught.log_ei[a].mean(axis=0)
        gain = np.linalg.solve(seen.T @ seen + _RIDGE * np.eye(seen.shape[1]), seen.T @ (taught.log_ei[a] - mean))
        error[b] = np.exp(mean + told @ gain - tested.log_ei[b]) - 1.0
    return np.asarray(np.sqrt((error**2).reshape(len(error), 3, -1).mean(axis=(0, 2))))


def of_one(known: Known, *, steel: bool) -> Known:
    """Those of one material."""
    rows = known.steel == steel
    arrays = (known.log_ei[rows], known.read[rows], known.leaflet[rows], known.maker[rows], known.steel[rows])
    return Known(*arrays, [known.truths[i] for i in np.flatnonzero(rows)])


def information(taught: Known, noise: float = 0.005) -> tuple[FloatArray, FloatArray]:
    """RMS standard deviation of ln EI by third, given the leaflet, without and with seven frequencies; one material."""
    with_one = np.hstack([taught.leaflet, np.ones((len(taught.leaflet), 1))])
    left = taught.log_ei - with_one @ np.linalg.lstsq(with_one, taught.log_ei, rcond=None)[0]
    covariance = left.T @ left / (len(left) - with_one.shape[1])
    jacobian = _sensitivities(taught.truths[0])
    shared = covariance @ jacobian.T
    after = covariance - shared @ np.linalg.solve(jacobian @ shared + noise**2 * np.eye(len(jacobian)), shared.T)
    before, then = (np.sqrt(np.diag(c).reshape(3, -1).mean(axis=1)) for c in (covariance, after))
    return before, then


def _sensitivities(truth: Truth, step: float = 1e-3) -> FloatArray:
    """Derivatives of the seven ln frequencies by ln EI at the places, zone by zone, shape (7, PLACES)."""
    model = truth.model
    zone = np.minimum((model.station_m / model.raw_length_m * _ZONES).astype(int), _ZONES - 1)
    moved = [
        replace(model, ei_n_m2=model.ei_n_m2 * np.exp(sign * step * (zone == z)))
        for z in range(_ZONES)
        for sign in (1.0, -1.0)
    ]
    rows = []
    for length in FREE_LENGTHS_IN:
        free = np.full(len(moved), length / 46.0 * model.raw_length_m)
        cpm = np.log(frequency_reading(moved, free, CLIP_G / 1000.0)).reshape(_ZONES, 2)
        by_zone = (cpm[:, 0] - cpm[:, 1]) / (2.0 * step)
        rows.append(np.repeat(by_zone, PLACES // _ZONES) / (PLACES // _ZONES))
    return np.array(rows)
