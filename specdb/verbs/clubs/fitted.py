"""A fitted club as it is being typed, in numbers; and two fitted clubs held against each other."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue
from specdb.errors import CatalogueError, SpecdbError
from specdb.records.rows import Club
from specdb.units.writing import as_sentence
from specdb.verbs.clubs.clubs import NamedClub, find_club, request_of
from specdb.verbs.clubs.mechanics import club_values
from specdb.verbs.matching.weightings import tolerances_of

if TYPE_CHECKING:
    from specdb.fitup.report import FitReport
    from specdb.verbs.stiffness.installed_profiles import InstalledProfile

_NEEDED = {
    "shaft_id": "the shaft",
    "head_id": "the head",
    "playing_length_in": "the playing length",
}
_USUAL_CLAMP_IN = 5.0


@dataclass(frozen=True, slots=True)
class Recorded:
    """What the record of a fitted club says against what is computed for it.

    Attributes
    ----------
    name : str
        What it is, in words.
    unit : str
        As stored (``cpm``, ``g``).
    recorded, computed : float
        Both figures.
    sd : float or None
        Standard deviation of the computed one.
    """

    name: str
    unit: str
    recorded: float
    computed: float
    sd: float | None

    @property
    def difference(self) -> float:
        """Recorded less computed."""
        return self.recorded - self.computed


@dataclass(frozen=True, slots=True)
class ClubNumbers:
    """A club in numbers, or why there are none.

    Attributes
    ----------
    club : NamedClub or None
        Its records, where all of them are there.
    values : dict or None
        As of :func:`specdb.verbs.clubs.mechanics.club_values`; None where it cannot be worked out.
    missing : tuple of str
        What is missing or wrong, a sentence each.
    recorded : tuple of Recorded
        What was recorded of it against what is computed.
    report : FitReport or None
        Whether its tip goes in its bore.
    said : tuple of str
        What does not go together in its record though it may stand so, a sentence each.
    """

    club: NamedClub | None
    values: dict[str, Any] | None
    missing: tuple[str, ...]
    recorded: tuple[Recorded, ...]
    report: FitReport | None
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ComparedFeature:
    """One feature of two clubs.

    Attributes
    ----------
    key, title, unit : str
        Its key with the unit, its name and its unit for a person.
    decimals : int
        Decimals shown.
    one, other : float or None
        Of either club.
    sd : float or None
        Standard deviation of the difference; what the two share counts twice, so that it is rather too large.
    one_unit : float
        Difference that counts as one unit of tolerance, in the unit of the feature.
    """

    key: str
    title: str
    unit: str
    decimals: int
    one: float | None
    other: float | None
    sd: float | None
    one_unit: float

    @property
    def difference(self) -> float | None:
        """The other less the one."""
        return None if self.one is None or self.other is None else self.other - self.one

    @property
    def units_off(self) -> float:
        """The difference in units of tolerance; NaN where unknown."""
        return math.nan if self.difference is None else self.difference / self.one_unit

    @property
    def units_sd(self) -> float:
        """Its standard deviation in units of tolerance; NaN where unknown."""
        return math.nan if self.sd is None else self.sd / self.one_unit


@dataclass(frozen=True, slots=True)
class ClubPair:
    """Two clubs held against each other.

    Attributes
    ----------
    one, other : ClubNumbers
        The clubs in numbers.
    features : tuple of ComparedFeature
        What is compared in units of tolerance; empty where one of them has no numbers.
    summary : str
        The differences that matter most, in words.
    profiles : tuple of InstalledProfile
        Stiffness along the two installed shafts; those that can be drawn.
    """

    one: ClubNumbers
    other: ClubNumbers
    features: tuple[ComparedFeature, ...]
    summary: str
    profiles: tuple[InstalledProfile, ...]


def numbers_of_typed(catalogue: Catalogue, typed: Mapping[str, Any]) -> ClubNumbers:
    """A club in numbers from the fields of its record, which need not be in the catalogue yet.

    Nothing is raised for what is only not known yet: it is said in ``missing``.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue, for the parts.
    typed : mapping
        Stored values by field; what is left out or None is empty.

    Raises
    ------
    CatalogueError
        If the file cannot be read.
    """
    missing = tuple(f"Name {what}." for field, what in _NEEDED.items() if typed.get(field) is None)
    if typed.get("shaft_id") is None or typed.get("head_id") is None:
        return ClubNumbers(None, None, missing, (), None)
    from specdb.verbs.clubs.fitup import FitInputs, fit_question, shelf_of

    known = {**dict.fromkeys(_NEEDED, 0.0), **{n: v for n, v in typed.items() if v is not None}}
    record = Club(**{**known, "id": known.get("id", "new")})
    asked = replace(request_of(record), club=None)
    if typed.get("playing_length_in") is None:
        asked = replace(asked, length_in=None)
    try:
        with catalogue.read() as reader:
            club = find_club(reader, asked)
            inputs = FitInputs(club, fit_question(club), shelf_of(reader))
    except CatalogueError:
        raise
    except SpecdbError as error:
        return ClubNumbers(None, None, (as_sentence(str(error)),), (), None)
    report = _judged(inputs)
    said = _label_said(record.label, club.head.number)
    if missing:
        return ClubNumbers(club, None, missing, (), report, said)
    try:
        values = club_values(club)
    except SpecdbError as error:
        return ClubNumbers(club, None, (as_sentence(str(error)),), (), report, said)
    return ClubNumbers(club, values, (), _recorded(typed, values), report, said)


def _label_said(label: str | None, number: str | None) -> tuple[str, ...]:
    """What a label says against the number of the head; a shop may call a club what it likes, so it is only told."""
    from specdb.sets.numbers import place_of

    one, other = place_of(label), place_of(number)
    if one is None or other is None or one == other:
        return ()
    return (f"The label says {label}, the head is number {number}: look at both.",)


def _judged(inputs: Any) -> FitReport | None:  # noqa: ANN401 (FitInputs)
    try:
        return inputs.report()  # type: ignore[no-any-return]
    except SpecdbError:
        return None  # a length that makes no sense is said by the numbers


def _recorded(typed: Mapping[str, Any], values: Mapping[str, Any]) -> tuple[Recorded, ...]:
    """Recorded figures that are computed, too."""
    found = []
    frequency, clamp = typed.get("frequency_cpm"), typed.get("frequency_clamp_in")
    sd = values["sd"]
    clamp = _USUAL_CLAMP_IN if clamp is None else clamp
    if frequency is not None and values["frequency_cpm"] is not None and abs(clamp - values["clamp_in"]) < 1e-6:
        found.append(Recorded("frequency", "cpm", frequency, values["frequency_cpm"], sd["frequency_cpm"]))
    added = typed.get("head_add_g")
    # without a swingweight to restore, the recorded weight is what is computed with
    if added is not None and typed.get("swingweight") is not None and values["head_add_g"] is not None:
        computed = values["head_add_g"] - (values["head_excess_g"] or 0.0)
        found.append(Recorded("weight added at the head", "g", added, computed, sd["head_add_g"]))
    return tuple(found)


def numbers_of(catalogue: Catalogue, key: str) -> ClubNumbers:
    """A fitted club in numbers.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    key : str
        The club.

    Raises
    ------
    NotFoundError
        If there is no such club.
    """
    with catalogue.read() as reader:
        typed = asdict(reader.get("club", key))
    return numbers_of_typed(catalogue, typed)


def lacking(catalogue: Catalogue, key: str) -> str:
    """Why a fitted club cannot be worked out as it is recorded, in a sentence; empty where it can.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    key : str
        The club.

    Raises
    ------
    NotFoundError
        If there is no such club.
    """
    found = numbers_of(catalogue, key)
    return "" if found.values is not None else f"club {key} cannot be worked out yet: {' '.join(found.missing)}"


def compare_clubs(catalogue: Catalogue, one: str, other: str, *, weighting: str | None = None) -> ClubPair:
    """Hold a fitted club against another.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    one, other : str
        The clubs; differences are the other less the one.
    weighting : str or None
        Weighting whose units of tolerance are used; the default where None.

    Raises
    ------
    NotFoundError
        If there is no such club or weighting.
    """
    from specdb.matching.words import summarise

    pair = (numbers_of(catalogue, one), numbers_of(catalogue, other))
    profiles = tuple(_profile(n) for n in pair if n.values is not None)
    if pair[0].values is None or pair[1].values is None:
        return ClubPair(*pair, (), "", profiles)
    with catalogue.read() as reader:
        tolerances = tolerances_of(reader, weighting)
    features = _features(pair[0].values, pair[1].values, tolerances.unit)
    summary = summarise(
        [math.nan if f.difference is None else f.difference for f in features],
        [f.units_off for f in features],
        [0.0 if math.isnan(f.units_sd) else f.units_sd for f in features],
    )
    return ClubPair(*pair, features, summary, profiles)


def _features(one: Mapping[str, Any], other: Mapping[str, Any], units: Any) -> tuple[ComparedFeature, ...]:  # noqa: ANN401 (an array)
    from specdb.matching.weighting import COMPARED

    found = []
    for feature, unit in zip(COMPARED, units, strict=True):
        a, b = _figure(one, feature.key), _figure(other, feature.key)
        doubts = (_figure(one["sd"], feature.key), _figure(other["sd"], feature.key))
        sd = None if None in doubts else math.hypot(*(d or 0.0 for d in doubts))
        whole = float(unit) / 100.0 * abs(a or 0.0) if feature.relative else float(unit)
        found.append(
            ComparedFeature(
                feature.key, feature.title, feature.unit, feature.decimals, a, b, sd, whole if whole else math.nan
            )
        )
    return tuple(found)


def _figure(values: Mapping[str, Any], key: str) -> float | None:
    zone = key.removesuffix("_ei_n_m2")
    found = values["zone_ei_n_m2"][zone] if zone != key else values[key]
    return None if found is None else float(found)


def _profile(numbers: ClubNumbers) -> InstalledProfile:
    """Stiffness along the shaft of a club that has numbers."""
    from specdb.mechanics.assembly import assemble
    from specdb.verbs.stiffness.installed_profiles import installed_profile

    if numbers.club is None:
        raise AssertionError  # numbers come from records
    assembly = assemble(numbers.club.parts())
    return installed_profile(
        assembly.model,
        numbers.club.shaft.id,
        tip_trim_in=assembly.tip_trim_in,
        insertion_in=assembly.cut.insertion_in,
        exposed_in=assembly.cut.exposed_length_in,
    )
