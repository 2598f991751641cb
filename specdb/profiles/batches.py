"""Whether some pieces play differently from the rest: this month's delivery against the catalogue."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

from specdb.errors import NotFoundError, UsageError
from specdb.profiles.estimate import make_tasks, with_words
from specdb.profiles.evidence import Case
from specdb.profiles.population import Population
from specdb.profiles.solver import solve


@dataclass(frozen=True, slots=True)
class BatchDifference:
    """Stiffness of some pieces against the rest.

    Attributes
    ----------
    stiffer, stiffer_sd : float
        Difference of ln EI, about the part by which the pieces are stiffer (negative: softer).
    off : float
        The difference in standard deviations.
    chance : float
        How likely a difference as large is where there is none (two-sided).
    """

    stiffer: float
    stiffer_sd: float
    off: float
    chance: float


def batch_difference(case: Case, pieces: Collection[str], population: Population) -> BatchDifference:
    """Test whether some pieces differ from the rest of what is known of a shaft.

    Scatter from piece to piece and the noise of the readings are allowed for.

    Parameters
    ----------
    case : Case
        The shaft, with the readings of all its pieces.
    pieces : collection of str
        The pieces in question.
    population : Population
        What the shafts of the catalogue are like.

    Returns
    -------
    BatchDifference

    Raises
    ------
    NotFoundError
        If one of the pieces was not measured.
    UsageError
        If none is named.
    """
    if not pieces:
        raise UsageError("name one piece or more to be compared with the rest")
    for piece in pieces:
        if piece not in case.pieces:
            raise NotFoundError("measured piece", piece, case.pieces)
    solution = solve(make_tasks([with_words(case, population)], population), shifted=pieces)[0]
    stiffer, sd = float(solution.state[-1]), math.sqrt(float(solution.covariance[-1, -1]))
    off = stiffer / sd
    return BatchDifference(stiffer, sd, off, math.erfc(abs(off) / math.sqrt(2.0)))
