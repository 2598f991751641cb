"""Most probable states of many shafts at once: damped Gauss-Newton, and the Laplace covariance.

Every shaft has one state and, for each piece of it that was measured, three offsets: the whole profile up or down,
tip against butt, and mass. They are independent of each other, with a standard deviation that is the scatter from
piece to piece. An extra unknown, common to some pieces, serves to test whether those play differently.

References
----------
Gauss-Newton and the Laplace approximation of the posterior: Tarantola, *Inverse Problem Theory*, SIAM 2005,
chapter 3.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from specdb.mechanics import defaults
from specdb.profiles.readings import Models, Reading, observed
from specdb.profiles.state import EI, MASS, NODE_T, SIZE

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

OFFSETS = 3
OFFSET_SD: FloatArray = np.array([defaults.EI_PIECE_REL, defaults.EI_PIECE_TILT_REL, defaults.WEIGHT_PIECE_REL])
OFFSET_OF: FloatArray = np.zeros((OFFSETS, SIZE))  # what an offset of one does to the state
OFFSET_OF[0, EI] = 1.0
OFFSET_OF[1, EI] = 2.0 * NODE_T - 1.0
OFFSET_OF[2, MASS] = 1.0
_SHIFT_SD = 0.3  # of the extra unknown, so wide that it is free

_MAX_STEPS = 25
_MAX_HALVINGS = 12
_SETTLED = 3e-4  # of a prior standard deviation


@dataclass(frozen=True, slots=True)
class Task:
    """One shaft to be solved.

    Attributes
    ----------
    raw_m : float
        Raw length, m.
    readings : sequence of Reading
        All evidence.
    mean, covariance : ndarray, shape (SIZE,), (SIZE, SIZE)
        Prior of the state.
    pieces : tuple of str
        Pieces, in the order of their offsets.
    """

    raw_m: float
    readings: Sequence[Reading]
    mean: FloatArray
    covariance: FloatArray
    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Solution:
    """One shaft solved; A is SIZE, three a piece, and one where a shift was asked for.

    Attributes
    ----------
    state : ndarray, shape (A,)
        State, offsets of the pieces in order, shift.
    covariance : ndarray, shape (A, A)
        Laplace covariance.
    residual : ndarray, shape (R,)
        Reading less model, logarithms but for linear readings.
    sd : ndarray, shape (R,)
        Standard deviation of the readings in the same terms.
    expected_sd : ndarray, shape (R,)
        What the residual should scatter by: the reading's own less what the fit follows it.
    misfit : float
        Twice the negative log posterior at the solution, less its constant: readings and prior.
    steps : int
        Steps of Gauss-Newton.
    """

    state: FloatArray
    covariance: FloatArray
    residual: FloatArray
    sd: FloatArray
    expected_sd: FloatArray
    misfit: float
    steps: int


def solve(
    tasks: Sequence[Task], shifted: Collection[str] | None = None, offset_sd: FloatArray = OFFSET_SD
) -> list[Solution]:
    """Solve shafts side by side.

    Parameters
    ----------
    tasks : sequence of Task
        The shafts; those with like numbers of readings cost least together.
    shifted : collection of str, optional
        Pieces that may differ from the others by one common shift of ln EI.
    offset_sd : ndarray, shape (3,)
        Scatter from piece to piece: level and tilt of ln EI, ln mass.

    Returns
    -------
    list of Solution
        In the order of the tasks.
    """
    if not tasks:
        return []
    problem = Problem.of(tasks, shifted, offset_sd)
    return problem.solutions(*problem.minimise())


@dataclass(slots=True)
class Evaluated:
    """Readings beside the model, and how that depends on the unknowns; rows beyond a shaft's readings are zero."""

    residual: FloatArray  # (B, Rmax), in sd
    jacobian: FloatArray  # (B, Rmax, A), in sd
    objective: FloatArray  # (B,)


@dataclass(frozen=True, slots=True)
class Problem:
    """Shafts side by side, R readings in all, A unknowns each."""

    tasks: Sequence[Task]
    models: Models
    value: FloatArray  # (R,)
    sd: FloatArray  # (R,)
    owner: IntArray  # (R,)
    slot: IntArray  # (R,)
    piece: IntArray  # (R,), -1: nominal
    moved: FloatArray  # (R,), 1 where the shift applies
    mean: FloatArray  # (B, A)
    precision: FloatArray  # (B, A, A)
    scale: FloatArray  # (B, A)
    pieces: int
    shift: bool

    @classmethod
    def of(cls, tasks: Sequence[Task], shifted: Collection[str] | None, offset_sd: FloatArray) -> Problem:
        """Prepare; the parameters are those of :func:`solve`.

        Parameters
        ----------
        tasks : sequence of Task
        shifted : collection of str or None
        offset_sd : ndarray, shape (3,)
        """
        readings: list[Reading] = []
        owner: list[int] = []
        slot: list[int] = []
        piece: list[int] = []
        for i, task in enumerate(tasks):
            readings.extend(task.readings)
            owner.extend([i] * len(task.readings))
            slot.extend(range(len(task.readings)))
            index = {name: k for k, name in enumerate(task.pieces)}
            piece.extend([-1 if r.piece is None else index[r.piece] for r in task.readings])
        raw = np.array([t.raw_m for t in tasks])[owner]
        value, sd = observed(readings)
        pieces = max(len(t.pieces) for t in tasks)
        size = SIZE + OFFSETS * pieces + int(shifted is not None)
        mean = np.zeros((len(tasks), size))
        mean[:, :SIZE] = [t.mean for t in tasks]
        extra = np.concatenate([np.tile(offset_sd, pieces), [_SHIFT_SD] * int(shifted is not None)])
        scale = np.empty((len(tasks), size))
        precision = np.zeros((len(tasks), size, size))
        covariance = np.array([t.covariance for t in tasks])
        precision[:, :SIZE, :SIZE] = _inverses(covariance)
        scale[:, :SIZE] = np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))
        scale[:, SIZE:] = extra
        at = np.arange(SIZE, size)
        precision[:, at, at] = 1.0 / extra**2
        moved = np.array([float(shifted is not None and r.piece in shifted) for r in readings])
        return cls(
            tasks,
            Models.of(readings, raw),
            value,
            sd,
            np.array(owner),
            np.array(slot),
            np.array(piece),
            moved,
            mean,
            precision,
            scale,
            pieces,
            shifted is not None,
        )

    def evaluate(self, x: FloatArray) -> Evaluated:
        """Residuals, derivatives and objective at a state.

        Parameters
        ----------
        x : ndarray, shape (B, A)
            The unknowns.
        """
        rows = self.owner
        state = x[rows, :SIZE]
        if self.pieces:
            offsets = x[:, SIZE : SIZE + OFFSETS * self.pieces].reshape(len(x), self.pieces, OFFSETS)
            own = offsets[rows, np.maximum(self.piece, 0)] * (self.piece >= 0)[:, None]
            state = state + own @ OFFSET_OF
        if self.shift:
            state = state + (x[rows, -1] * self.moved)[:, None] * OFFSET_OF[0]
        value, by_state = self.models.evaluate(state)
        residual = (self.value - value) / self.sd
        by_state /= self.sd[:, None]
        most = int(self.slot.max()) + 1
        padded = np.zeros((len(x), most))
        padded[rows, self.slot] = residual
        jacobian = np.zeros((len(x), most, x.shape[1]))
        jacobian[rows, self.slot, :SIZE] = by_state
        if self.pieces:
            by_offset = by_state @ OFFSET_OF.T
            have = np.flatnonzero(self.piece >= 0)
            first = SIZE + OFFSETS * self.piece[have]
            for k in range(OFFSETS):
                jacobian[rows[have], self.slot[have], first + k] = by_offset[have, k]
        if self.shift:
            jacobian[rows, self.slot, -1] = self.moved * (by_state @ OFFSET_OF[0])
        away = x - self.mean
        prior = (away * (self.precision @ away[:, :, None])[:, :, 0]).sum(axis=1)
        return Evaluated(padded, jacobian, (padded**2).sum(axis=1) + prior)

    def minimise(self, start: FloatArray | None = None) -> tuple[FloatArray, Evaluated, int]:
        """Most probable unknowns.

        Parameters
        ----------
        start : ndarray, shape (B, A), optional
            Where to start; else at the mean.
        """
        x = self.mean.copy() if start is None else start
        now = self.evaluate(x)
        for count in range(_MAX_STEPS):
            step = self._step(x, now)
            if float(np.abs(step / self.scale).max()) < _SETTLED:
                return x, now, count
            x, now = self._move(x, now, step)
        return x, now, _MAX_STEPS

    def _step(self, x: FloatArray, now: Evaluated) -> FloatArray:
        turned = now.jacobian.transpose(0, 2, 1)
        slope = (turned @ now.residual[:, :, None])[:, :, 0]
        slope -= (self.precision @ (x - self.mean)[:, :, None])[:, :, 0]
        step = np.linalg.solve(self.precision + turned @ now.jacobian, slope[:, :, None])[:, :, 0]
        return np.asarray(step, dtype=np.float64)

    def _move(self, x: FloatArray, now: Evaluated, step: FloatArray) -> tuple[FloatArray, Evaluated]:
        """Go along the step, half as far where the objective would rise."""
        part = np.ones(len(x))
        # EI by more than e in one go leaves the range in which the step means anything
        part = np.minimum(part, 1.0 / np.maximum(np.abs(step[:, EI]).max(axis=1), 1.0))
        for _ in range(_MAX_HALVINGS):
            moved = x + part[:, None] * step
            then = self.evaluate(moved)
            worse = ~(then.objective <= now.objective * (1.0 + 1e-9) + 1e-9)
            if not worse.any():
                return moved, then
            part = np.where(worse, 0.5 * part, part)
        moved = np.where(worse[:, None], x, moved)
        return moved, self.evaluate(moved)

    def believing(self, covariance: FloatArray, sd: FloatArray) -> Problem:
        """The same problem with other covariances of the states beforehand and other sd of the readings.

        Parameters
        ----------
        covariance : ndarray, shape (B, SIZE, SIZE)
        sd : ndarray, shape (R,)
        """
        precision = self.precision.copy()
        precision[:, :SIZE, :SIZE] = np.linalg.inv(covariance)
        scale = self.scale.copy()
        scale[:, :SIZE] = np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))
        return replace(self, precision=precision, scale=scale, sd=sd)

    def solutions(self, x: FloatArray, final: Evaluated, steps: int) -> list[Solution]:
        """One solution a shaft.

        Parameters
        ----------
        x : ndarray, shape (B, A)
            The most probable unknowns.
        final : Evaluated
            There.
        steps : int
            Steps that it took.
        """
        hessian = self.precision + final.jacobian.transpose(0, 2, 1) @ final.jacobian
        covariance = np.linalg.inv(hessian)
        covariance = 0.5 * (covariance + covariance.transpose(0, 2, 1))
        followed = ((final.jacobian @ covariance) * final.jacobian).sum(axis=2)
        free = np.sqrt(np.maximum(1.0 - followed, 1e-6))
        out = []
        start = 0
        for i, task in enumerate(self.tasks):
            n = len(task.readings)
            sd = self.sd[start : start + n]
            keep = self._own(len(task.pieces))
            out.append(
                Solution(
                    state=x[i, keep],
                    covariance=covariance[i][np.ix_(keep, keep)],
                    residual=final.residual[i, :n] * sd,
                    sd=sd,
                    expected_sd=free[i, :n] * sd,
                    misfit=float(final.objective[i]),
                    steps=steps,
                )
            )
            start += n
        return out

    def _own(self, pieces: int) -> IntArray:
        """Entries of a shaft with fewer pieces than the most."""
        keep = np.arange(SIZE + OFFSETS * pieces)
        return np.append(keep, self.mean.shape[1] - 1) if self.shift else keep


def _inverses(covariance: FloatArray) -> FloatArray:
    """Inverse of each prior covariance; equal ones are inverted once."""
    found: dict[bytes, FloatArray] = {}
    for one in covariance:
        key = one.tobytes()
        if key not in found:
            found[key] = np.asarray(np.linalg.inv(one), dtype=np.float64)
    return np.array([found[one.tobytes()] for one in covariance])
