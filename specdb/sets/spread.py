"""How the frequencies of the clubs of a set vary together.

The frequency of a club is ``J·ln EI`` and a little from its other inputs. Clubs with pieces of one shaft share what is
not known about that shaft, but not what differs from piece to piece; clubs with different shafts are taken as
independent, as are clubs with a measured piece of their own.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from specdb.mechanics import defaults
from specdb.mechanics.club import FEATURES, Build, shaft_derivatives
from specdb.mechanics.profile import ShaftModel

FloatArray = npt.NDArray[np.float64]
_FREQUENCY = FEATURES.index("frequency_cpm")


def frequency_covariance(
    models: Sequence[ShaftModel],
    trim_m: npt.ArrayLike,
    builds: Sequence[Build],
    sd: npt.ArrayLike,
    shaft: Sequence[str | None],
) -> FloatArray:
    """Covariance of the frequencies of a set.

    Parameters
    ----------
    models : sequence of ShaftModel
        Raw shafts, one a club.
    trim_m : array_like, shape (clubs,)
        Tip trims, m.
    builds : sequence of Build
        The rest of each club.
    sd : array_like, shape (clubs,)
        Standard deviation of each club's frequency, cpm.
    shaft : sequence of str or None
        Which shaft each club has a piece of; None for a piece that is like no other.

    Returns
    -------
    ndarray, shape (clubs, clubs)
        In cpm².
    """
    spread = np.asarray(sd, dtype=np.float64)
    covariance = np.diag(spread**2)
    shared = [i for i, s in enumerate(shaft) if s is not None and shaft.count(s) > 1]
    if len(shared) < 2:
        return covariance
    trims = np.broadcast_to(np.asarray(trim_m, dtype=np.float64), (len(models),))[shared]
    by_log_ei, by_inputs = shaft_derivatives([models[i] for i in shared], trims, [builds[i] for i in shared])
    for a, i in enumerate(shared):
        for b, j in enumerate(shared[:a]):
            if shaft[i] != shaft[j]:
                continue
            model = models[i]
            n = model.station_m.size
            one, other = by_log_ei[a, _FREQUENCY, :n], by_log_ei[b, _FREQUENCY, :n]
            known = model.log_ei_cov - defaults.EI_PIECE_REL**2
            level = float(by_inputs[a, _FREQUENCY, 0] * by_inputs[b, _FREQUENCY, 0]) * _published_mass_variance(model)
            value = max(float(one @ known @ other), 0.0) + level
            # rounding, or a piece scatter that the table says is smaller, must not make it no covariance
            covariance[i, j] = covariance[j, i] = min(value, 0.999 * float(spread[i] * spread[j]))
    return covariance


def _published_mass_variance(model: ShaftModel) -> float:
    piece = defaults.WEIGHT_PIECE_G / 1000.0
    return max(model.mass_sd_kg**2 - piece**2, 0.0)
