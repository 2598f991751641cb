"""What variants are held against."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Target:
    """What variants are held against, in the order of the features.

    Attributes
    ----------
    value, sd : ndarray, shape (features,)
        Features of the reference, and their standard deviations as far as its shaft is their cause; NaN unknown.
    unit, weight : ndarray, shape (features,)
        One unit of each feature (absolute), and the weights.
    """

    value: FloatArray
    sd: FloatArray
    unit: FloatArray
    weight: FloatArray
