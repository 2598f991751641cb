"""What one more reading would be worth, before it is taken.

With Jacobian ``j`` of the reading and noise ``σ``, the covariance ``C`` becomes ``C - C jᵀ j C/(j C jᵀ + σ²)``,
whatever the reading turns out to be, as far as the model is linear.

References
----------
Lindley, *On a measure of the information provided by an experiment*, Ann. Math. Stat. 27 (1956) 986; for the linear
model: Chaloner & Verdinelli, Stat. Sci. 10 (1995) 273.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.profiles.estimate import ProfileEstimate
from specdb.profiles.evidence import Case, reading_of
from specdb.profiles.readings import Models, Reading, observed
from specdb.profiles.solver import OFFSET_OF, OFFSET_SD, OFFSETS
from specdb.profiles.state import SIZE
from specdb.records.rows import ShaftReading

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Worth:
    """One reading that could be taken.

    Attributes
    ----------
    reading : ShaftReading
        The reading.
    before, after : float
        Standard deviation of what is asked about, without and with it.
    """

    reading: ShaftReading
    before: float
    after: float

    @property
    def part_left(self) -> float:
        """Part of the doubt that would be left, 0 to 1."""
        return self.after / self.before if self.before > 0.0 else 1.0


def worth_of(case: Case, estimate: ProfileEstimate, planned: Sequence[ShaftReading], asked: FloatArray) -> list[Worth]:
    """What planned readings would be worth, best first.

    Parameters
    ----------
    case : Case
        The shaft.
    estimate : ProfileEstimate
        Its estimate.
    planned : sequence of ShaftReading
        Readings that could be taken; of each, ``value`` is a plausible figure, from which its default standard
        deviation follows. A ``sample`` not measured before is a new piece. Those that are impossible are left out.
    asked : ndarray, shape (SIZE,)
        Derivatives of the quantity asked about by the state of the nominal shaft: a feature of a club, the score.

    Returns
    -------
    list of Worth
    """
    usable = [(p, r) for p in planned if isinstance(r := reading_of(p, case), Reading)]
    if not usable:
        return []
    readings = [r for _, r in usable]
    names = [p.name for p in estimate.pieces]
    size = estimate.state.size
    state = np.array([estimate.of_piece(r.piece if r.piece in names else None)[0] for r in readings])
    _, by_state = Models.of(readings, np.full(len(readings), case.raw_m)).evaluate(state)
    _, sd = observed(readings)
    row = np.zeros((len(readings), size))
    row[:, :SIZE] = by_state
    by_offset = by_state @ OFFSET_OF.T
    noise = sd**2
    for i, reading in enumerate(readings):
        if reading.piece in names:
            first = SIZE + OFFSETS * names.index(reading.piece)
            row[i, first : first + OFFSETS] = by_offset[i]
        else:
            noise[i] += float(((by_offset[i] * OFFSET_SD) ** 2).sum())
    target = np.concatenate([asked, np.zeros(size - SIZE)])
    shared = row @ estimate.covariance @ target
    spread = np.einsum("ra,ab,rb->r", row, estimate.covariance, row) + noise
    before = float(target @ estimate.covariance @ target)
    after = np.sqrt(np.maximum(before - shared**2 / spread, 0.0))
    found = [Worth(p, float(np.sqrt(before)), float(a)) for (p, _), a in zip(usable, after, strict=True)]
    return sorted(found, key=lambda w: w.after)
