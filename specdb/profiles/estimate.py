"""One stiffness profile a shaft, with its uncertainty, from all that is known of it.

The estimate is the most probable state under the population's prior and the readings' models (Gauss-Newton), its
covariance that of Laplace. A reading more than three standard deviations off is named, never dropped; one that all
else contradicts counts for less (``fit``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from specdb.errors import NotFoundError
from specdb.mechanics.profile import ShaftModel
from specdb.profiles import labels
from specdb.profiles.contradictions import Refused
from specdb.profiles.evidence import Case, detail_of
from specdb.profiles.fit import Fit, fit
from specdb.profiles.population import Population
from specdb.profiles.readings import Kind, Reading
from specdb.profiles.solver import OFFSET_OF, OFFSET_SD, OFFSETS, Task
from specdb.profiles.state import BALANCE, EI, KAPPA, MASS, NODE_T, SIZE, hats

FloatArray = npt.NDArray[np.float64]

OUTLIER_SDS = 3.0
_CHUNK = 128
_MIDDLE = 0.164  # of the raw length: how far the balance point may lie from the middle


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reading beside what the estimated shaft would read.

    Attributes
    ----------
    name, unit : str
        What it is; ``value``, ``model`` and ``sd`` are in that unit.
    value, model, sd : float
        Reading, reading of the estimated shaft, standard deviation of the reading.
    off : float
        How far it lies from what all else leads to, in standard deviations of that.
    outlier : bool
        Whether it is more than three off, or counts for less than half.
    weight : float
        What it counts, in parts of what its standard deviation says; below 1 where all else contradicts it.
    piece : str or None
        The piece it was taken on, ``published`` among them; None: said of the shaft in general.
    place_m, span_m : float or None
        Where it tells EI, m from the raw tip end, and over which span; None where it is no EI at a place.
    in_club : bool
        Whether it was taken on a finished club.
    """

    name: str
    unit: str
    value: float
    model: float
    sd: float
    off: float
    outlier: bool
    weight: float = 1.0
    piece: str | None = None
    place_m: float | None = None
    span_m: float | None = None
    in_club: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """What one measured piece is like, next to the nominal shaft.

    Attributes
    ----------
    name : str
        The piece.
    level, level_sd : float
        Its ln EI above the nominal, whole profile together.
    tilt, tilt_sd : float
        The same, butt end against middle.
    """

    name: str
    level: float
    level_sd: float
    tilt: float
    tilt_sd: float


@dataclass(frozen=True, slots=True)
class ProfileEstimate:
    """Nominal profile of one shaft, SI.

    Attributes
    ----------
    shaft_id : str
        Its key.
    raw_m : float
        Raw length, m.
    node_m, ei : ndarray, shape (n,)
        Nodes from the raw tip end (m) and stiffness (N·m²), a straight line between them.
    log_ei_cov : ndarray, shape (n, n)
        Covariance of ln EI of the nominal shaft, scatter from piece to piece not in it.
    mass_kg, mass_sd_kg : float
        Mass of the nominal shaft, kg.
    balance_m, balance_sd_m : float
        Balance point from the raw tip end, m.
    twist_rad_per_nm, twist_sd : float
        Twist over ``gauge_m``, rad/(N·m).
    gauge_m : tuple of float
        Gauge span, m from the raw tip end.
    pieces : tuple of Piece
        Measured pieces.
    piece_sd : float
        Scatter of ln EI from piece to piece, whole profile together; learned where there are pieces, else usual.
    group : int
        Row of ``state.GROUPS``.
    evidence : tuple of Evidence
        Every reading used.
    refused : tuple of Refused
        Readings that no shaft can give.
    assumed : tuple of str
        What was assumed, in plain sentences.
    state, covariance : ndarray, shape (A,), (A, A)
        The whole solution, as in :class:`specdb.profiles.solver.Solution`.
    scale : float
        By how much the variance of stiffness among usual shafts was widened for this one.
    """

    shaft_id: str
    raw_m: float
    node_m: FloatArray
    ei: FloatArray
    log_ei_cov: FloatArray
    mass_kg: float
    mass_sd_kg: float
    balance_m: float
    balance_sd_m: float
    twist_rad_per_nm: float
    twist_sd: float
    gauge_m: tuple[float, float]
    pieces: tuple[Piece, ...]
    piece_sd: float
    group: int
    evidence: tuple[Evidence, ...]
    refused: tuple[Refused, ...]
    assumed: tuple[str, ...]
    state: FloatArray
    covariance: FloatArray
    scale: float

    @property
    def outliers(self) -> tuple[Evidence, ...]:
        """Readings more than three standard deviations off, to be asked about."""
        return tuple(e for e in self.evidence if e.outlier)

    @property
    def made_from(self) -> str:
        """What went in, as one phrase."""
        return ", ".join(e.name for e in self.evidence)

    def band(self, s_m: npt.ArrayLike, piece: str | None = None) -> tuple[FloatArray, FloatArray]:
        """Stiffness at places and its uncertainty, detail between the nodes included.

        Parameters
        ----------
        s_m : array_like, shape (K,)
            Places, m from the raw tip end.
        piece : str, optional
            A measured piece; else the nominal shaft.

        Returns
        -------
        ei : ndarray, shape (K,)
            N·m².
        log_sd : ndarray, shape (K,)
            Standard deviation of ln EI.
        """
        state, covariance = self.of_piece(piece)
        t = np.asarray(s_m, dtype=np.float64) / self.raw_m
        below, part = hats(t)
        ei = np.exp(state[EI])
        first, second = (1.0 - part) * ei[below], part * ei[below + 1]
        total = first + second
        row = np.zeros((below.size, NODE_T.size))
        at = np.arange(below.size)
        row[at, below] = first / total
        row[at, below + 1] += second / total
        variance = np.einsum("kn,nm,km->k", row, covariance[EI, EI], row)
        return total, np.sqrt(variance + detail_of(self.group, t) ** 2)

    def of_piece(self, piece: str | None) -> tuple[FloatArray, FloatArray]:
        """State and covariance of a measured piece, or of the nominal shaft.

        Parameters
        ----------
        piece : str or None
            The piece.

        Raises
        ------
        NotFoundError
            If it was not measured.
        """
        if piece is None:
            return self.state[:SIZE], self.covariance[:SIZE, :SIZE]
        names = [p.name for p in self.pieces]
        if piece not in names:
            raise NotFoundError("measured piece", piece, names)
        to_piece = np.zeros((SIZE, self.state.size))
        to_piece[:, :SIZE] = np.eye(SIZE)
        first = SIZE + OFFSETS * names.index(piece)
        to_piece[:, first : first + OFFSETS] = OFFSET_OF.T
        return to_piece @ self.state, to_piece @ self.covariance @ to_piece.T

    def model(self, piece: str | None = None) -> ShaftModel:
        """The shaft for the mechanics.

        Parameters
        ----------
        piece : str, optional
            A measured piece; else any piece of this shaft, so that the scatter from piece to piece is in it.

        Raises
        ------
        NotFoundError
            If the piece was not measured.
        """
        state, covariance = self.of_piece(piece)
        if piece is None:
            scatter = OFFSET_SD * np.array([self.piece_sd / OFFSET_SD[0], 1.0, 1.0])
            covariance = covariance + (OFFSET_OF.T * scatter**2) @ OFFSET_OF
        mass = float(np.exp(state[MASS]))
        twist, twist_sd = twist_over(state, covariance, self.raw_m, self.gauge_m)
        # detail reaches less far than a node spacing; a club averages over it, so that a third of it is left at a node
        log_ei = covariance[EI, EI] + np.diag((detail_of(self.group, NODE_T) / 3.0) ** 2)
        return ShaftModel(
            raw_length_m=self.raw_m,
            station_m=self.node_m,
            ei_n_m2=np.exp(state[EI]),
            log_ei_cov=0.5 * (log_ei + log_ei.T),
            mass_kg=mass,
            mass_sd_kg=mass * float(np.sqrt(covariance[MASS, MASS])),
            balance_from_tip_m=balance_part(state) * self.raw_m,
            balance_sd_m=self.raw_m * float(np.sqrt(covariance[BALANCE, BALANCE])),
            twist_rad_per_nm=twist,
            twist_sd=twist_sd,
            twist_from_m=self.gauge_m[0],
            twist_to_m=self.gauge_m[1],
        )


def estimate(case: Case, population: Population) -> ProfileEstimate:
    """Estimate one shaft.

    Parameters
    ----------
    case : Case
        What is known of it.
    population : Population
        What the shafts of the catalogue are like.

    Returns
    -------
    ProfileEstimate
    """
    return estimate_many([case], population)[0]


def estimate_many(cases: Sequence[Case], population: Population) -> list[ProfileEstimate]:
    """Estimate shafts, many at a time.

    Parameters
    ----------
    cases : sequence of Case
        The shafts.
    population : Population
        What the shafts of the catalogue are like.

    Returns
    -------
    list of ProfileEstimate
        In the order of the cases.
    """
    words = [with_words(c, population) for c in cases]
    tasks = make_tasks(words, population)
    order = sorted(range(len(cases)), key=lambda i: (len(tasks[i].pieces), len(tasks[i].readings)))
    out: list[ProfileEstimate | None] = [None] * len(cases)
    for start in range(0, len(order), _CHUNK):
        part = order[start : start + _CHUNK]
        usual = np.array([population.usual_scale(cases[i]) for i in part])
        for i, found in zip(part, fit([tasks[i] for i in part], usual), strict=True):
            out[i] = _estimate(words[i], found)
    return [e for e in out if e is not None]


def make_tasks(cases: Sequence[Case], population: Population) -> list[Task]:
    """Cases with their priors.

    Parameters
    ----------
    cases : sequence of Case
        The shafts, words added.
    population : Population
        What the shafts of the catalogue are like.

    Returns
    -------
    list of Task
    """
    return [Task(c.raw_m, c.readings, *population.prior(c), c.pieces) for c in cases]


def with_words(case: Case, population: Population) -> Case:
    """The case with its kick word and flex letter as weak readings.

    Parameters
    ----------
    case : Case
        The shaft.
    population : Population
        What words are worth, and the known members of its family.
    """
    mean, covariance = population.prior(case)
    rule = population.rule
    found: list[Reading | None] = []
    if case.kick_label in labels.KICK_SCORE:
        told = (rule.kick_slope * labels.KICK_SCORE[case.kick_label], rule.kick_sd)
        # learned beside the mean and the scatter of the whole kind, so that is what it is evidence beside
        usual = population.mean[case.group], population.covariance[case.group % 2]
        found.append(labels.as_reading(f"kick point '{case.kick_label}'", labels.CONTRAST, told, *usual))
    if case.family:
        rank, level = population.families.of(case.family, case.shaft_id)
        own = labels.flex_rank(case.flex)
        if level.size:
            step = np.zeros(level.size) if own is None else own - rank
            known = np.isfinite(step) & (np.abs(step) < 10.0)
            # letters that cannot be put in order still say that it is one family
            guess = level + rule.flex_step * np.where(known, step, 0.0)
            sd = rule.flex_sd if known.any() and own is not None else 1.5 * rule.flex_sd
            # levels are told beside the mean of the kind, not beside what is expected of this one
            beside = float(labels.LEVEL @ (population.mean[case.group] - mean))
            told = (float(guess.mean()) + beside, float(sd * np.sqrt(1.0 + 1.0 / level.size)))
            name = f"{level.size} of its model with known profile" + (f", flex '{case.flex}'" if case.flex else "")
            found.append(labels.as_reading(name, labels.LEVEL, told, mean, covariance))
    extra = tuple(r for r in found if r is not None)
    return replace(case, readings=case.readings + extra) if extra else case


def _estimate(case: Case, found: Fit) -> ProfileEstimate:
    solution = found.solution
    state, covariance = solution.state, solution.covariance
    nominal = covariance[:SIZE, :SIZE]
    mass = float(np.exp(state[MASS]))
    twist, twist_sd = twist_over(state, nominal, case.raw_m, case.gauge_m)
    pieces = tuple(_piece(name, k, state, covariance) for k, name in enumerate(case.pieces))
    return ProfileEstimate(
        shaft_id=case.shaft_id,
        raw_m=case.raw_m,
        node_m=NODE_T * case.raw_m,
        ei=np.exp(state[EI]),
        log_ei_cov=nominal[EI, EI],
        mass_kg=mass,
        mass_sd_kg=mass * float(np.sqrt(nominal[MASS, MASS])),
        balance_m=balance_part(state) * case.raw_m,
        balance_sd_m=case.raw_m * float(np.sqrt(nominal[BALANCE, BALANCE])),
        twist_rad_per_nm=twist,
        twist_sd=twist_sd,
        gauge_m=case.gauge_m,
        pieces=pieces,
        piece_sd=_scatter(pieces),
        group=case.group,
        evidence=_evidence(case, found),
        scale=found.scale,
        refused=case.refused,
        assumed=case.assumed,
        state=state,
        covariance=covariance,
    )


def balance_part(state: FloatArray) -> float:
    """Balance point of an estimated shaft from the raw tip end, as a part of the raw length.

    Parameters
    ----------
    state : ndarray, shape (SIZE,)
        The estimate.
    """
    return 0.5 + float(np.clip(state[BALANCE], -_MIDDLE, _MIDDLE))


def _piece(name: str, index: int, state: FloatArray, covariance: FloatArray) -> Piece:
    at = SIZE + OFFSETS * index
    level_sd, tilt_sd = np.sqrt(np.diag(covariance)[at : at + 2])
    return Piece(name, float(state[at]), float(level_sd), float(state[at + 1]), float(tilt_sd))


def _scatter(pieces: Sequence[Piece]) -> float:
    """Scatter of the level among pieces, shrunk to the usual one as if that came from four pieces."""
    if len(pieces) < 2:
        return float(OFFSET_SD[0])
    square = sum(p.level**2 + p.level_sd**2 for p in pieces)
    return float(np.sqrt((square + 4.0 * OFFSET_SD[0] ** 2) / (len(pieces) + 4.0)))


def twist_over(
    state: FloatArray, covariance: FloatArray, raw_m: float, gauge_m: tuple[float, float]
) -> tuple[float, float]:
    """Twist of an estimated shaft over a gauge span and its standard deviation, rad/(N·m).

    Parameters
    ----------
    state, covariance : ndarray, shape (SIZE,), (SIZE, SIZE)
        The estimate.
    raw_m : float
        Raw length, m.
    gauge_m : tuple of float
        Gauge span, m from the raw tip end.
    """
    t = gauge_m[0] + (gauge_m[1] - gauge_m[0]) * _RULE_AT
    below, part = hats(t / raw_m)
    ei = np.exp(state[EI])
    first, second = (1.0 - part) * ei[below], part * ei[below + 1]
    flexible = (gauge_m[1] - gauge_m[0]) * _RULE_WEIGHT / (first + second)
    total = float(flexible.sum())
    row = np.zeros(SIZE)
    np.add.at(row, below, -flexible * first / (first + second) / total)
    np.add.at(row, below + 1, -flexible * second / (first + second) / total)
    row[KAPPA] = -1.0
    twist = total / float(np.exp(state[KAPPA]))
    return twist, twist * float(np.sqrt(row @ covariance @ row))


def _evidence(case: Case, found: Fit) -> tuple[Evidence, ...]:
    out = []
    solution, weight = found.solution, found.weight
    # with the part h of a reading that the fit follows: residual and variance of the fit without it
    free = (solution.expected_sd / solution.sd) ** 2
    without = solution.sd**2 * (1.0 / free - 1.0)
    off = solution.residual / free / np.sqrt(solution.sd**2 * weight + without)
    for i, (reading, residual) in enumerate(zip(case.readings, solution.residual.tolist(), strict=True)):
        value, model, sd = _for_people(reading, residual)
        outlier = bool(abs(off[i]) > OUTLIER_SDS or weight[i] < 0.5)
        of = reading.piece, *_place(reading), reading.in_club
        out.append(
            Evidence(reading.name, reading.unit, value, model, sd, float(off[i]), outlier, float(weight[i]), *of)
        )
    return tuple(out)


def _place(reading: Reading) -> tuple[float | None, float | None]:
    """Where a reading tells EI, and over which span."""
    if reading.kind not in (Kind.POINT, Kind.BEND):
        return None, None
    return 0.5 * (reading.low_m + reading.high_m), reading.high_m - reading.low_m


def _for_people(reading: Reading, residual: float) -> tuple[float, float, float]:
    per = reading.per_unit
    if reading.kind != Kind.LINEAR:
        return reading.value / per, reading.value * float(np.exp(-residual)) / per, reading.sd / per
    if reading.unit in ("g", "in") and reading.functional is not None and reading.functional[BALANCE] == 0.0:
        value = float(np.exp(reading.value)) / per
        return value, value * float(np.exp(-residual)), value * reading.sd
    shift = 0.5 if reading.functional is not None and reading.functional[BALANCE] else 0.0
    return (reading.value + shift) / per, (reading.value - residual + shift) / per, reading.sd / per


_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(48)
_RULE_AT: FloatArray = 0.5 + 0.5 * _GAUSS_X
_RULE_WEIGHT: FloatArray = 0.5 * _GAUSS_W
