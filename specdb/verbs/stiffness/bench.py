"""Readings at the bench: what a profile becomes with readings that are not kept yet, and keeping them at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue
from specdb.errors import ConflictError, UsageError
from specdb.records.rows import Shaft, ShaftReading
from specdb.verbs.stiffness.corrections import Correction, calibrations_of, corrected_by, with_corrections
from specdb.verbs.stiffness.finished import finished_clubs

if TYPE_CHECKING:
    from specdb.profiles.calibration import Calibrations
    from specdb.profiles.estimate import ProfileEstimate
    from specdb.profiles.finished import FinishedClub
    from specdb.profiles.population import Population

PUBLISHED = "published"


@dataclass(frozen=True, slots=True)
class BenchShaft:
    """A shaft on the bench, with all that is needed to estimate it again at every reading.

    Attributes
    ----------
    shaft : Shaft
        Its record.
    stored : tuple of ShaftReading
        Readings that are kept, as they were read.
    instruments : tuple of str
        Instruments that readings of the catalogue were taken with.
    population : Population
        What shafts are usually like.
    calibrations : Calibrations
        Of the instruments.
    before : ProfileEstimate
        The profile without anything new.
    clubs : tuple of FinishedClub
        Finished clubs that it is in.
    """

    shaft: Shaft
    stored: tuple[ShaftReading, ...]
    instruments: tuple[str, ...]
    population: Population
    calibrations: Calibrations
    before: ProfileEstimate
    clubs: tuple[FinishedClub, ...] = ()

    @property
    def pieces(self) -> tuple[str, ...]:
        """Pieces that were measured before."""
        return tuple(sorted({r.sample for r in self.stored} - {PUBLISHED}))

    def corrections(self, typed: Sequence[ShaftReading] = ()) -> tuple[Correction, ...]:
        """What is corrected for its instrument, kept and new.

        Parameters
        ----------
        typed : sequence of ShaftReading
            Readings that are not kept yet.
        """
        return corrected_by(self.calibrations, (*self.stored, *typed))

    def with_readings(self, typed: Sequence[ShaftReading]) -> ProfileEstimate:
        """The profile with more readings.

        Parameters
        ----------
        typed : sequence of ShaftReading
            Readings that are not kept yet; one that is kept under the same conditions gives way to them.
        """
        from specdb.profiles.estimate import estimate
        from specdb.profiles.evidence import make_case

        again = {_conditions(r) for r in typed}
        stored = [r for r in self.stored if _conditions(r) not in again]
        readings = (*stored, *typed)
        corrected = with_corrections(readings, corrected_by(self.calibrations, readings))
        return estimate(make_case(self.shaft, corrected, self.clubs), self.population)


def _conditions(reading: ShaftReading) -> tuple[object, ...]:
    """What makes a reading the same one, typed again."""
    from specdb.schema import load_schema

    return tuple(getattr(reading, name) for name in load_schema().table("shaft_reading").derive_key_from)


def bench_shaft(catalogue: Catalogue, shaft_id: str, population: Population | None = None) -> BenchShaft:
    """Put a shaft on the bench.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    shaft_id : str
        The shaft.
    population : Population or None
        What shafts are usually like, where somebody keeps it; the kept one, or one learned now, where None.

    Raises
    ------
    NotFoundError
        If there is no such shaft; near matches are named.
    MissingDataError
        If its raw length is unknown.
    """
    from specdb.profiles.calibration import Calibrations
    from specdb.profiles.estimate import estimate
    from specdb.profiles.evidence import make_case
    from specdb.verbs.stiffness.estimates import usual_shafts

    with catalogue.read() as reader:
        shaft: Shaft = reader.get("shaft", shaft_id)
        stored = tuple(reader.readings_of(shaft_id))
        clubs = tuple(finished_clubs(reader, [shaft_id]).get(shaft_id, ()))
        make_case(shaft)  # says what is missing before anything is learned
        named = reader.arrow("shaft_reading", ["instrument"])["instrument"].unique().to_pylist()
        calibrations = calibrations_of(reader) if reader.count("reference_reading") else Calibrations()
        known = usual_shafts(reader) if population is None else population
    corrected = with_corrections(stored, corrected_by(calibrations, stored))
    return BenchShaft(
        shaft=shaft,
        stored=stored,
        instruments=tuple(sorted(name for name in named if name)),
        population=known,
        calibrations=calibrations,
        before=estimate(make_case(shaft, corrected, clubs), known),
        clubs=clubs,
    )


@dataclass(frozen=True, slots=True)
class ReadAgain:
    """A reading that is kept already, under the very same conditions, with another value.

    Attributes
    ----------
    key : str
        Its key.
    before, after : ShaftReading
        As kept, and as read now.
    """

    key: str
    before: ShaftReading
    after: ShaftReading


class ReadAgainError(ConflictError):
    """Some readings are kept already with other values; nothing was changed.

    Attributes
    ----------
    again : tuple of ReadAgain
        Which.
    """

    def __init__(self, again: Sequence[ReadAgain]) -> None:
        count = len(again)
        super().__init__(f"{count} of these readings {'is' if count == 1 else 'are'} kept already with another value")
        self.again = tuple(again)


@dataclass(frozen=True, slots=True)
class KeptReadings:
    """What was kept.

    Attributes
    ----------
    added, changed, unchanged : int
        Readings.
    change_no : int or None
        Number of the change; None where nothing changed.
    """

    added: int
    changed: int
    unchanged: int
    change_no: int | None


def keep_readings(
    catalogue: Catalogue,
    readings: Iterable[ShaftReading],
    *,
    by: str | None = None,
    why: str | None = None,
    may_replace: Iterable[ReadAgain] = (),
) -> KeptReadings:
    """Keep readings, all in one change.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    readings : iterable of ShaftReading
        The readings; their keys are worked out anew.
    by, why : str or None
        Who and why, for the journal.
    may_replace : iterable of ReadAgain
        Kept readings that may be replaced: those that a person has seen beside the new ones.

    Raises
    ------
    ReadAgainError
        If readings are kept already under the same conditions with other values that nobody has seen.
    FieldError
        If a value is not allowed.
    UsageError
        If there is nothing to keep, or two readings are one and the same.
    """
    from specdb.catalogue.keys import derive_key

    wanted = [_values(r) for r in readings]
    if not wanted:
        raise UsageError("there is no reading to keep")
    seen = {a.key: a.before.value for a in may_replace}
    counts = {"added": 0, "changed": 0, "unchanged": 0}
    with catalogue.write(by=by, why=why, done="readings at the bench") as writer:
        again: list[ReadAgain] = []
        keys: set[str] = set()
        for values in wanted:
            key = derive_key("shaft_reading", values)
            if key is None or key in keys:
                raise UsageError("two of the readings were taken under the very same conditions: keep one of them")
            keys.add(key)
            held: ShaftReading | None = writer.find("shaft_reading", key)
            if held is not None and held.value != values["value"] and seen.get(key) != held.value:
                again.append(ReadAgain(key, held, replace(held, value=values["value"])))
        if again:
            raise ReadAgainError(again)
        for values in wanted:
            counts[str(writer.put("shaft_reading", values, mode="upsert"))] += 1
        change_no = writer.change_no
    return KeptReadings(counts["added"], counts["changed"], counts["unchanged"], change_no)


def _values(reading: ShaftReading) -> Mapping[str, Any]:
    from specdb.schema import load_schema

    names = load_schema().table("shaft_reading").field_names
    values = {name: getattr(reading, name) for name in names if name != "id"}
    return {name: value for name, value in values.items() if value is not None}
