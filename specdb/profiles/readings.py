"""Measurement models: what a shaft of a given state would read, and the derivatives by the state.

Readings that are positive are worked with as logarithms: they then are nearly linear in ln EI, and a relative
error means the same everywhere. EI is a straight line between the nodes. Integrals use a Gauss rule in every piece
between the nodes; frequency takes the lowest mode by successive integration, and its derivatives from Rayleigh's
quotient, ``δω²/ω² = ∫δEI κ²/∫EI κ² - ∫δm y²/(∫m y² + Σ M y²)``. A finished club is read like a raw shaft: its free end
is the mouth, its load the head on a rigid link beyond that, with small parts at the mouth and some of the shaft in the
bore.

References
----------
Unit-load theorem: Timoshenko & Gere, *Mechanics of Materials*. Successive integration: Timoshenko, Young & Weaver,
*Vibration Problems in Engineering*, chapter 5. Stationarity of the quotient: Rayleigh, *The Theory of Sound*, §88.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from specdb.mechanics.constants import CPM_PER_HZ
from specdb.profiles.quadrature import WEIGHT, WIDTH, edges, from_high, from_low, points
from specdb.profiles.state import BALANCE, EI, KAPPA, MASS, NODES, SIZE, hats

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_SWEEPS = 4  # of the mode: the quotient then is good to 1e-9 even with no mass at the tip


class Kind(IntEnum):
    """What kind of reading; all but ``LINEAR`` are taken as logarithms."""

    POINT = 0  # EI at a place
    BEND = 1  # EI by three-point bending, P·L³/(48·δ)
    FREQUENCY = 2
    DEFLECTION = 3
    TWIST = 4
    LINEAR = 5  # a linear functional of the state


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading, SI.

    Attributes
    ----------
    name : str
        What to call it in front of a person.
    kind : Kind
        Its measurement model.
    value, sd : float
        N·m², Hz (frequency), m (deflection), rad/(N·m) (twist), or as the functional (linear).
    piece : str or None
        Physical piece; None: said of the shaft in general.
    low_m, high_m : float
        Place (point: both the same), span of bending, load and clamp face (frequency, deflection), gauge span, m
        from the raw tip end.
    load : float
        Tip mass (frequency), kg; force (deflection), N.
    functional : ndarray, shape (SIZE,), or None
        Of a linear reading.
    link_m, mouth_kg, bore_m : float
        Of a frequency of a finished club: how far the load lies beyond the low end (m), what else sits at that end
        (kg), and how much of the shaft there is below it (m).
    in_club : bool
        Whether it was taken on a finished club.
    unit, per_unit : str, float
        Unit for people, and what one of it is in SI.
    """

    name: str
    kind: Kind
    value: float
    sd: float
    piece: str | None = None
    low_m: float = 0.0
    high_m: float = 0.0
    load: float = 0.0
    functional: FloatArray | None = None
    link_m: float = 0.0
    mouth_kg: float = 0.0
    bore_m: float = 0.0
    in_club: bool = False
    unit: str = ""
    per_unit: float = 1.0


@dataclass(frozen=True, slots=True)
class _End:
    """What moves with the low end of R shafts, beside the load."""

    link: FloatArray  # (R,): of the load beyond the end, m
    mouth: FloatArray  # (R,): at the end, kg
    even: FloatArray  # (3, R): moments 0 to 2 about the end of the piece below it, of unit mass per length
    line: FloatArray  # (3, R): the same of the mass line

    @classmethod
    def of(cls, readings: Sequence[Reading], raw_m: FloatArray) -> _End:
        bore = np.array([r.bore_m for r in readings])
        slope, at_end = 12.0 / raw_m, 12.0 * (np.array([r.low_m for r in readings]) / raw_m - 0.5)
        even = np.stack([bore ** (k + 1) / (k + 1) for k in range(3)])
        line = np.stack([at_end * even[k] - slope * bore ** (k + 2) / (k + 2) for k in range(3)])
        return cls(np.array([r.link_m for r in readings]), np.array([r.mouth_kg for r in readings]), even, line)


@dataclass(frozen=True, slots=True)
class _Integral:
    """Rows of one kind: Gauss points with the dense hats of the nodes."""

    rows: IntArray
    kind: Kind
    half: FloatArray  # (R, S)
    hat: FloatArray  # (R, P, NODES)
    weight: FloatArray  # (R, P), with φ
    u: FloatArray  # (R, S, N) from the free end
    load: FloatArray
    line: FloatArray  # (R, P): 12(s/L - 1/2), slope of the mass line
    per_length: FloatArray  # (R,): 1/L
    offset: FloatArray  # (R,) of the logarithm
    end: _End


@dataclass(frozen=True, slots=True)
class Models:
    """Measurement models of R readings, ready to be evaluated at any states."""

    count: int
    point: tuple[IntArray, IntArray, FloatArray]
    linear: tuple[IntArray, FloatArray]
    integrals: tuple[_Integral, ...]

    @classmethod
    def of(cls, readings: Sequence[Reading], raw_m: FloatArray) -> Models:
        """Prepare.

        Parameters
        ----------
        readings : sequence of Reading
            R readings.
        raw_m : ndarray, shape (R,)
            Raw length of the shaft of each, m.
        """
        kind = np.array([r.kind for r in readings], dtype=np.int64)
        low = np.array([r.low_m for r in readings])
        high = np.array([r.high_m for r in readings])
        load = np.array([r.load for r in readings])
        at = np.flatnonzero(kind == Kind.POINT)
        below, part = hats(low[at] / raw_m[at])
        plain = np.flatnonzero(kind == Kind.LINEAR)
        functional = np.zeros((plain.size, SIZE))
        for i, row in enumerate(plain.tolist()):
            functional[i] = readings[row].functional
        integrals = []
        for each in (Kind.BEND, Kind.FREQUENCY, Kind.DEFLECTION, Kind.TWIST):
            rows = np.flatnonzero(kind == each)
            if rows.size:
                end = _End.of([readings[i] for i in rows.tolist()], raw_m[rows])
                integrals.append(_prepare(each, rows, low[rows], high[rows], load[rows], raw_m[rows], end))
        return cls(len(readings), (at, below, part), (plain, functional), tuple(integrals))

    def evaluate(self, state: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Readings and their derivatives.

        Parameters
        ----------
        state : ndarray, shape (R, SIZE)
            State of the piece that each reading was taken on.

        Returns
        -------
        value : ndarray, shape (R,)
            Logarithms, but for linear readings.
        jacobian : ndarray, shape (R, SIZE)
        """
        value = np.empty(self.count)
        jacobian = np.zeros((self.count, SIZE))
        ei = np.exp(state[:, EI])
        at, below, part = self.point
        if at.size:
            first = (1.0 - part) * ei[at, below]
            second = part * ei[at, below + 1]
            total = first + second
            value[at] = np.log(total)
            jacobian[at, below] = first / total
            jacobian[at, below + 1] = second / total
        plain, functional = self.linear
        if plain.size:
            value[plain] = np.einsum("rd,rd->r", functional, state[plain])
            jacobian[plain] = functional
        for group in self.integrals:
            _integral(group, ei[group.rows], state[group.rows], value, jacobian)
        return value, jacobian


def _prepare(
    kind: Kind, rows: IntArray, low: FloatArray, high: FloatArray, load: FloatArray, raw: FloatArray, end: _End
) -> _Integral:
    middle = (0.5 * (low + high) if kind == Kind.BEND else low)[:, None]
    edge = edges(low, high, raw, middle)
    half = 0.5 * np.diff(edge, axis=1)
    node = points(edge, half)
    flat = node.reshape(rows.size, -1)
    weight = (half[:, :, None] * WEIGHT).reshape(rows.size, -1)
    offset = np.zeros(rows.size)
    if kind == Kind.BEND:
        # half the load goes to each support: moment P·x/2, so δ = ∫ P·(x/2)²/EI
        weight = weight * (0.5 * np.minimum(flat - low[:, None], high[:, None] - flat)) ** 2
        offset = np.log((high - low) ** 3 / 48.0)
    elif kind == Kind.DEFLECTION:
        weight = weight * (flat - low[:, None]) ** 2
        offset = np.log(load)
    below, part = hats(flat / raw[:, None])
    hat = np.zeros((*flat.shape, NODES))
    np.put_along_axis(hat, below[:, :, None], (1.0 - part)[:, :, None], axis=2)
    np.put_along_axis(hat, below[:, :, None] + 1, part[:, :, None], axis=2)
    line = 12.0 * (flat / raw[:, None] - 0.5)
    u = node - low[:, None, None]
    return _Integral(rows, kind, half, hat, weight, u, load, line, 1.0 / raw, offset, end)


def _integral(group: _Integral, ei: FloatArray, state: FloatArray, value: FloatArray, jacobian: FloatArray) -> None:
    stiffness = (group.hat @ ei[:, :, None])[:, :, 0]
    rows = group.rows
    if group.kind == Kind.FREQUENCY:
        _frequency(group, ei, stiffness, state, value, jacobian)
        return
    strain = group.weight / stiffness
    total = strain.sum(axis=1)
    by = ei * ((strain / stiffness)[:, None, :] @ group.hat)[:, 0] / total[:, None]
    if group.kind == Kind.BEND:
        value[rows] = group.offset - np.log(total)
        jacobian[rows, EI] = by
        return
    value[rows] = group.offset + np.log(total)
    jacobian[rows, EI] = -by
    if group.kind == Kind.TWIST:
        value[rows] -= state[:, KAPPA]
        jacobian[rows, KAPPA] = -1.0


def _frequency(
    group: _Integral,
    ei: FloatArray,
    stiffness: FloatArray,
    state: FloatArray,
    value: FloatArray,
    jacobian: FloatArray,
) -> None:
    rows, half, u, load, end = group.rows, group.half, group.u, group.load, group.end
    count = rows.size
    flexible = 1.0 / stiffness.reshape(count, -1, WIDTH)
    mean = np.exp(state[:, MASS]) * group.per_length
    line = group.line.reshape(count, -1, WIDTH)
    mass = mean[:, None, None] * np.maximum(1.0 + state[:, BALANCE, None, None] * line, 0.02)
    bore, first, second = mean * (end.even + state[:, BALANCE] * end.line)
    moment = u + end.link[:, None, None]
    shape, tip, slope = _deflect(moment * flexible, half)
    for _ in range(_SWEEPS):
        shape, slope = shape / tip[:, None, None], slope / tip
        head = 1.0 + end.link * slope
        force, turning = bore + first * slope, first + second * slope
        shear, _unused = from_low(mass * shape, half)
        shear += (load * head + end.mouth + force)[:, None, None]
        moment, _unused = from_low(shear, half)
        moment += (load * head * end.link + turning)[:, None, None]
        old = shape
        shape, tip, slope = _deflect(moment * flexible, half)
    weight = half[:, :, None] * WEIGHT
    inertia = weight * mass * shape
    moved = tip + end.link * slope
    square = np.stack([tip**2, 2.0 * tip * slope, slope**2])
    kinetic = (inertia * shape).sum(axis=(1, 2)) + load * moved**2 + end.mouth * tip**2
    kinetic += bore * square[0] + first * square[1] + second * square[2]
    work = (inertia * old).sum(axis=(1, 2)) + load * head * moved + end.mouth * tip + force * tip + turning * slope
    value[rows] = 0.5 * np.log(work / kinetic) - np.log(2.0 * np.pi)
    strain = (weight * moment**2 * flexible).reshape(count, -1)
    by = ei * ((strain / stiffness)[:, None, :] @ group.hat)[:, 0]
    jacobian[rows, EI] = 0.5 * by / strain.sum(axis=1)[:, None]
    heavy = (weight * shape**2).reshape(count, -1)
    shaft = (heavy * mass.reshape(count, -1)).sum(axis=1) + bore * square[0] + first * square[1] + second * square[2]
    jacobian[rows, MASS] = -0.5 * shaft / kinetic
    tilted = (heavy * group.line).sum(axis=1) + (end.line * square).sum(axis=0)
    jacobian[rows, BALANCE] = -0.5 * mean * tilted / kinetic


def _deflect(curvature: FloatArray, half: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Deflection at the points, at the low end, and outward slope there."""
    slope, at_end = from_high(curvature, half)
    return *from_high(slope, half), at_end


def observed(readings: Sequence[Reading]) -> tuple[FloatArray, FloatArray]:
    """Values and standard deviations as the models give them: logarithms, but for linear readings.

    Parameters
    ----------
    readings : sequence of Reading
        R readings.

    Returns
    -------
    value, sd : ndarray, shape (R,)
    """
    value = np.array([r.value for r in readings])
    sd = np.array([r.sd for r in readings])
    log = np.array([r.kind != Kind.LINEAR for r in readings], dtype=bool)
    safe = np.where(log, value, 1.0)
    return np.where(log, np.log(safe), value), np.where(log, sd / safe, sd)


HZ = 1.0 / CPM_PER_HZ  # one cpm in Hz
