"""Stiffness along two installed shafts, the fitted one and a stand-in, to be drawn over each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from specdb.matching.index import MatchIndex
    from specdb.matching.result import Substitute
    from specdb.mechanics.profile import ShaftModel
    from specdb.verbs.matching.substitutes import SubstitutesAnswer

    FloatArray = npt.NDArray[np.float64]

POINTS = 81


@dataclass(frozen=True, slots=True)
class InstalledProfile:
    """Stiffness of one installed shaft, from the mouth of the hosel to the butt end.

    Attributes
    ----------
    shaft_id : str
        The shaft.
    from_hosel_in : ndarray, shape (K,)
        Places, in from the mouth of the hosel.
    ei_n_m2, sd_n_m2 : ndarray, shape (K,)
        Stiffness and its standard deviation, N·m².
    known_in : tuple of float
        From where to where along it stations stand, in; beyond them the stiffness is held constant.
    """

    shaft_id: str
    from_hosel_in: FloatArray
    ei_n_m2: FloatArray
    sd_n_m2: FloatArray
    known_in: tuple[float, float]


@dataclass(frozen=True, slots=True)
class ProfilePair:
    """The fitted shaft and a stand-in, installed.

    Attributes
    ----------
    fitted, stand_in : InstalledProfile
        Each over its own exposed length, K places evenly spread; with one adapter these are the same places.
    """

    fitted: InstalledProfile
    stand_in: InstalledProfile

    @property
    def difference_pct(self) -> tuple[FloatArray, FloatArray]:
        """Stand-in less fitted in percent of the fitted, and its standard deviation, each of shape (K,)."""
        import numpy as np

        one, other = self.fitted, self.stand_in
        ratio = other.ei_n_m2 / one.ei_n_m2
        relative = np.hypot(one.sd_n_m2 / one.ei_n_m2, other.sd_n_m2 / other.ei_n_m2)
        return 100.0 * (ratio - 1.0), 100.0 * ratio * relative


def installed_profile(
    model: ShaftModel, shaft_id: str, *, tip_trim_in: float, insertion_in: float, exposed_in: float
) -> InstalledProfile:
    """Stiffness along one installed shaft.

    Parameters
    ----------
    model : ShaftModel
        The raw shaft.
    shaft_id : str
        What to call it.
    tip_trim_in, insertion_in : float
        What is cut off the tip, and how deep the tip sits, in.
    exposed_in : float
        From the mouth of the hosel to the butt end, in.
    """
    import numpy as np

    from specdb.mechanics.constants import IN

    along = np.linspace(0.0, exposed_in, POINTS)
    start = tip_trim_in + insertion_in
    place = (start + along) * IN
    station = model.station_m
    ei = model.ei(place)
    # share of each station in the straight line between stations
    share = np.stack([np.interp(place, station, unit) for unit in np.eye(station.size)], axis=1)
    by_log = share * model.ei_n_m2 / ei[:, None]
    variance = np.einsum("kn,nm,km->k", by_log, model.log_ei_cov, by_log)
    first, last = (float(s) / IN - start for s in (station[0], station[-1]))
    return InstalledProfile(
        shaft_id=shaft_id,
        from_hosel_in=along,
        ei_n_m2=ei,
        sd_n_m2=ei * np.sqrt(np.maximum(variance, 0.0)),
        known_in=(max(first, 0.0), min(last, exposed_in)),
    )


def installed_profiles(answer: SubstitutesAnswer, found: Substitute, index: MatchIndex) -> ProfilePair:
    """The fitted shaft and one of its stand-ins, both as installed.

    Parameters
    ----------
    answer : SubstitutesAnswer
        The answer that the stand-in is from.
    found : Substitute
        The stand-in.
    index : MatchIndex
        The index that the answer was made with.

    Raises
    ------
    BuildError, MissingDataError
        If one of them cannot be computed.
    NotFoundError
        If the index has no such stand-in.
    """
    from specdb.errors import NotFoundError
    from specdb.mechanics.assembly import assemble, make_build

    parts = answer.club.parts()
    row, own = (index.row_of(key) for key in (found.shaft_id, parts.shaft.id))
    if row < 0:
        raise NotFoundError("shaft", found.shaft_id)
    # the fitted shaft as the index has it, so that both curves rest on the same rules
    listed = own >= 0 and bool(index.table.computable[own])
    lengths = make_build(parts)[1]
    fitted = installed_profile(
        index.model(own) if listed else assemble(parts).model,
        parts.shaft.id,
        tip_trim_in=parts.tip_trim_in,
        insertion_in=lengths.insertion_in,
        exposed_in=lengths.exposed_length_in,
    )
    stand_in = installed_profile(
        index.model(row),
        found.shaft_id,
        tip_trim_in=found.tip_trim_in,
        insertion_in=found.insertion_in,
        exposed_in=found.cut_length_in - found.insertion_in,
    )
    return ProfilePair(fitted, stand_in)
