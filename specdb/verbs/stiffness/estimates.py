"""Keeping the stiffness estimates of the catalogue up to date, so that no question waits for them.

A shaft needs an estimate where it has no complete EI table, or readings that a table cannot take in, of the bench or of
a finished club that it is in. Estimates are made anew for the shafts that changes bear upon, and for all of them when
what shafts are usually like (the population) is learned anew: when the way of learning is another, when a tenth more or
fewer shafts teach, when a maker has become known, or when half as many again were read on the bench, which shows how
far shafts depart from what was learned.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import CatalogueError
from specdb.verbs.stiffness.corrections import corrected_columns
from specdb.verbs.stiffness.finished import finished_clubs

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.catalogue.kept import TeacherCounts
    from specdb.mechanics.estimated import EstimatedProfiles
    from specdb.orders.as_built import BuiltUnit
    from specdb.profiles.columns import EstimateColumns
    from specdb.profiles.evidence import Case
    from specdb.profiles.population import Population

AT_ONCE = 3_000  # shafts that are estimated right after a change; more are left to the command, which shows progress
_CHUNK = 1_024
_FEW = 400  # shafts that are read one by one
_GROWN = 0.10  # part by which the number of teachers must change for learning anew
_BENCHED_GROWN, _BENCHED_MORE = 1.5, 5  # times, and by how many, that of the shafts read on the bench
_BENCHED = "bench_count"  # among the arrays of a kept population

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class PopulationFacts:
    """The kept population model in short.

    Attributes
    ----------
    number : int
        Counts up with every learning.
    made_on : str
        Day and time (UTC).
    teachers, known_makers : int
        Shafts with EI tables when it was learned, and makers with enough of them to count as known.
    error_pct : tuple of float or None
        Cross-validated error of EI in the tip, middle and butt third, of a shaft of which only kind, weight, length
        and diameters are known.
    """

    number: int
    made_on: str
    teachers: int
    known_makers: int
    error_pct: tuple[float | None, float | None, float | None]

    def sentence(self) -> str:
        """The facts in a sentence."""
        told = f"What shafts are usually like was learned on {self.made_on} UTC from {self.teachers} with EI tables"
        if None in self.error_pct:
            return f"{told}: too few to say how well."
        tip, mid, butt = self.error_pct
        return (
            f"{told}; for a shaft of which only kind, weight, length and diameters are known it is off by "
            f"{tip:.0f} % (tip third), {mid:.0f} % (middle), {butt:.0f} % (butt), cross-validated."
        )


@dataclass(frozen=True, slots=True)
class Refreshed:
    """What keeping estimates up to date came to.

    Attributes
    ----------
    estimated : int
        Estimates made.
    learned : bool
        Whether the population was learned anew.
    left : int
        Estimates still to be made.
    kept : int
        Estimates kept now.
    population : PopulationFacts or None
        The population model.
    """

    estimated: int
    learned: bool
    left: int
    kept: int
    population: PopulationFacts | None

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "estimated": self.estimated,
            "learned": self.learned,
            "left": self.left,
            "kept": self.kept,
            "population": population_json(self.population),
        }


def population_json(facts: PopulationFacts | None) -> dict[str, Any] | None:
    """Plain values of the facts about a population.

    Parameters
    ----------
    facts : PopulationFacts or None
        The facts.
    """
    if facts is None:
        return None
    tip, mid, butt = facts.error_pct
    return {
        "number": facts.number,
        "made_on": facts.made_on,
        "teachers": facts.teachers,
        "known_makers": facts.known_makers,
        "error_tip_pct": tip,
        "error_mid_pct": mid,
        "error_butt_pct": butt,
    }


def population_facts(reader: Reader) -> PopulationFacts | None:
    """The kept population model in short, or None.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    """
    row: dict[str, Any] | None = reader.population()
    if row is None:
        return None
    return PopulationFacts(
        number=int(row["population_no"]),
        made_on=row["made_on"].isoformat(sep=" ", timespec="minutes"),
        teachers=int(row["teachers"]),
        known_makers=int(row["known_makers"]),
        error_pct=(row["error_tip_pct"], row["error_mid_pct"], row["error_butt_pct"]),
    )


@dataclass(frozen=True, slots=True)
class EstimateState:
    """How far the kept estimates are up to date.

    Attributes
    ----------
    kept : int
        Estimates kept.
    missing : int
        Shafts that need one and have none, or one that rests on an earlier population.
    doubtful : int
        Kept estimates with a reading more than three standard deviations off.
    population : PopulationFacts or None
        The population model.
    """

    kept: int
    missing: int
    doubtful: int
    population: PopulationFacts | None

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "kept": self.kept,
            "missing": self.missing,
            "with_outliers": self.doubtful,
            "population": population_json(self.population),
        }

    def sentences(self) -> list[str]:
        """The state in sentences; none where nothing is or need be estimated."""
        said = []
        if self.kept:
            said.append(f"Stiffness estimates kept: {self.kept}.")
        if self.population is not None:
            said.append(self.population.sentence())
        if self.missing:
            said.append(f"Stiffness estimates still to be made: {self.missing}; run 'specdb estimate'.")
        if self.doubtful:
            said.append(f"{self.doubtful} with a reading more than 3 sd off: 'specdb profile SHAFT' names it.")
        return said


def state_of(catalogue: Catalogue) -> EstimateState:
    """How far the kept estimates are up to date.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    """
    import pyarrow.compute as pc

    with catalogue.read() as reader:
        facts = population_facts(reader)
        kept = reader.arrow("profile_estimate", ["shaft_id", "population_no", "outliers"])
        fresh = kept.filter(pc.equal(kept["population_no"], facts.number)) if facts is not None else kept
        missing = 0
        if reader.seen_change() < reader.last_change() or fresh.num_rows < kept.num_rows:
            wanted, _ = _wanted(reader, None, set(fresh["shaft_id"].to_pylist()), anew=False)
            missing = len(wanted)
    doubtful = int(pc.sum(pc.greater(kept["outliers"], 0)).as_py() or 0)
    return EstimateState(kept.num_rows, missing, doubtful, facts)


def kept_population(reader: Reader) -> Population | None:
    """The kept population model, if it was learned in today's way.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    """
    from specdb.profiles.population import RECIPE, Population

    row: dict[str, Any] | None = reader.population()
    if row is None or int(row["recipe"]) != RECIPE:
        return None
    with _arrays(row) as arrays:
        return Population.from_arrays(dict(arrays))


def usual_shafts(reader: Reader) -> Population:
    """What shafts are usually like: the kept population, or one learned on the spot where none is kept.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    """
    kept = kept_population(reader)
    return kept if kept is not None else _learned(_teaching_cases(reader))


def kept_columns(reader: Reader, shaft_id: str | None = None) -> EstimateColumns:
    """Kept estimates as columns.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    shaft_id : str, optional
        Only of this shaft.
    """
    import numpy as np

    from specdb.profiles.columns import TRIANGLE, EstimateColumns
    from specdb.profiles.state import SIZE

    table = reader.estimates(shaft_id)
    count = table.num_rows

    def numbers(name: str, width: int | None = None) -> Any:  # noqa: ANN401 (an array of the column's type)
        column = table.column(name).combine_chunks()
        if width is None:
            return column.to_numpy(zero_copy_only=False)
        return np.asarray(column.flatten()).reshape(count, width)

    return EstimateColumns(
        shaft_ids=table.column("shaft_id").to_pylist(),
        group=numbers("group_no").astype(np.int64),
        state=numbers("state", SIZE),
        covariance=numbers("covariance", TRIANGLE),
        piece_sd=numbers("piece_sd"),
        readings=numbers("readings"),
        outliers=numbers("outliers"),
    )


def kept_profiles(reader: Reader, shaft_id: str | None = None) -> EstimatedProfiles | None:
    """Kept estimates for the mechanics; None where there are none.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    shaft_id : str, optional
        Only of this shaft.
    """
    columns = kept_columns(reader, shaft_id)
    return columns.profiles() if len(columns) else None


def profiles_without(reader: Reader, shaft_id: str, unit: BuiltUnit) -> EstimatedProfiles | None:
    """What the mechanics take for a shaft that one finished club told nothing of, so that it can judge that club.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    shaft_id : str
        The shaft.
    unit : BuiltUnit
        The finished club.
    """
    from specdb.mechanics.estimated import BEYOND_A_TABLE
    from specdb.mechanics.shaft_table import ShaftTable
    from specdb.profiles.columns import EstimateColumns
    from specdb.profiles.estimate import estimate
    from specdb.profiles.evidence import make_case
    from specdb.profiles.population import builtin
    from specdb.verbs.stiffness.corrections import readings_of

    clubs = finished_clubs(reader, [shaft_id]).get(shaft_id, [])
    others = finished_clubs(reader, [shaft_id], but=unit).get(shaft_id, [])
    if clubs == others:
        return kept_profiles(reader, shaft_id)
    shaft, readings = reader.get("shaft", shaft_id), readings_of(reader, shaft_id)
    benched = any(r.quantity in BEYOND_A_TABLE for r in readings) or any(c.tells for c in others)
    if shaft.raw_length_in is None or (not benched and ShaftTable.from_records([shaft], readings).complete[0]):
        return None
    found = estimate(make_case(shaft, readings, others), kept_population(reader) or builtin())
    return EstimateColumns.of([found]).profiles()


def refresh(catalogue: Catalogue, *, at_most: int | None = None, progress: Progress | None = None) -> Refreshed:
    """Make the estimates that are missing, learning the population anew where it is time.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    at_most : int, optional
        Do nothing where more estimates than this are to be made.
    progress : callable, optional
        Told what is done, how much of it, of how much.

    Raises
    ------
    CatalogueError
        If the catalogue cannot be opened.
    """
    tell = progress or (lambda _text, _done, _total: None)
    with catalogue.read() as reader:
        now, seen = reader.last_change(), reader.seen_change()
        due, facts = _due(reader), population_facts(reader)
        kept = reader.arrow("profile_estimate", ["shaft_id", "population_no"]).to_pydict()
        have = dict(zip(kept["shaft_id"], kept["population_no"], strict=True))
        older = [key for key, number in have.items() if facts is not None and number != facts.number]
        if now == seen and not older and not (due and have):
            return Refreshed(0, False, 0, len(have), facts)
        tell("looking for shafts to estimate", 0, 1)
        anew = due and bool(have)
        scope = None if anew else sorted({*reader.touched_since(seen), *older})
        wanted, needless = _wanted(reader, scope, set(have) - set(older), anew=anew)
        if at_most is not None and len(wanted) > at_most:
            return Refreshed(0, False, len(wanted), len(have), facts)
        learn_now = due and bool(wanted)
        population = None if learn_now else kept_population(reader)
        teachers = _teaching_cases(reader) if learn_now else []
        counts = _teacher_counts(reader)
    number = 0
    if learn_now:
        tell("learning what shafts are like", 0, 1)
        population = _learned(teachers)
        with catalogue.keep() as keeper:
            number = keeper.keep_population(_population_row(population, counts))
    made = 0
    for start in range(0, len(wanted), _CHUNK):
        tell("estimating stiffness", start, len(wanted))
        made += _estimate_and_keep(catalogue, wanted[start : start + _CHUNK], population, number, now)
    with catalogue.keep() as keeper:
        keeper.forget(needless)
        keeper.looked_at(now)
    with catalogue.read() as reader:
        return Refreshed(made, learn_now, 0, reader.count("profile_estimate"), population_facts(reader))


def refresh_quietly(catalogue: Catalogue) -> None:
    """Bring the estimates up to date after a change, unless that would take long; the change stands in any case.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    """
    try:
        refresh(catalogue, at_most=AT_ONCE)
    except CatalogueError:
        return  # busy, or full: 'specdb check' and 'specdb substitutes' tell what is missing


def _due(reader: Reader) -> bool:
    """Whether the population is to be learned anew."""
    from specdb.profiles.population import RECIPE

    row: dict[str, Any] | None = reader.population()
    if row is None or int(row["recipe"]) != RECIPE:
        return True
    counts = _teacher_counts(reader)
    before = int(row["teachers"])
    if abs(counts.shafts - before) > _GROWN * max(before, 1) or counts.makers > int(row["known_makers"]):
        return True
    with _arrays(row) as arrays:
        benched = int(arrays[_BENCHED][0])
    few, many = sorted((benched, counts.benched))
    return many >= _BENCHED_GROWN * few and many - few >= _BENCHED_MORE


def _arrays(population_row: dict[str, Any]) -> Any:  # noqa: ANN401 (numpy's archive of arrays)
    import numpy as np

    return np.load(io.BytesIO(base64.b64decode(population_row["content"])), allow_pickle=False)


def _teacher_counts(reader: Reader) -> TeacherCounts:
    from specdb.profiles.population import MAKER_KNOWN, MIN_STATIONS

    return reader.teacher_counts(stations=MIN_STATIONS, of_a_maker=MAKER_KNOWN)


def _wanted(
    reader: Reader, touched: Sequence[str] | None, have: set[str], *, anew: bool
) -> tuple[list[str], list[str]]:
    """Shafts that need an estimate and have none (``anew``: whether they have one or not), and the needless ones."""
    import numpy as np
    import pyarrow as pa
    import pyarrow.compute as pc

    from specdb.mechanics.estimated import BEYOND_A_TABLE
    from specdb.mechanics.shaft_table import READING_COLUMNS, SHAFT_COLUMNS, ShaftTable

    shafts, readings = _columns_of(reader, touched, SHAFT_COLUMNS, READING_COLUMNS)
    table = ShaftTable.from_arrow(shafts, readings)
    bench = pc.is_in(readings.column("quantity"), value_set=pa.array(BEYOND_A_TABLE))
    benched = set(pc.unique(readings.filter(bench).column("shaft_id")).to_pylist())
    benched |= {key for key, clubs in finished_clubs(reader, touched).items() if any(c.tells for c in clubs)}
    need = np.isfinite(table.raw_length_m) & (~table.complete | np.array([i in benched for i in table.ids], dtype=bool))
    wanted = [key for key, wants in zip(table.ids, need.tolist(), strict=True) if wants and (anew or key not in have)]
    return wanted, [key for key, wants in zip(table.ids, need.tolist(), strict=True) if not wants and key in have]


def _columns_of(
    reader: Reader, only: Sequence[str] | None, shaft_columns: Sequence[str], reading_columns: Sequence[str]
) -> tuple[pa.Table, pa.Table]:
    """Columns of shafts and readings: of all, or only of some shafts."""
    import pyarrow as pa
    import pyarrow.compute as pc

    few = only is not None and len(only) <= _FEW
    keys = ", ".join(f"'{key}'" for key in only or ("-",))
    shafts = reader.arrow("shaft", shaft_columns, where=f"id in ({keys})" if few else None)
    readings = corrected_columns(reader, reading_columns, where=f"shaft_id in ({keys})" if few else None)
    if only is not None and not few:
        chosen = pa.array(only)
        shafts = shafts.filter(pc.is_in(shafts.column("id"), value_set=chosen))
        readings = readings.filter(pc.is_in(readings.column("shaft_id"), value_set=chosen))
    return shafts, readings


def cases_of(reader: Reader, only: Sequence[str] | None = None, *, with_clubs: bool = True) -> list[Case]:
    """What is known of shafts, in order of their keys; those without a raw length are passed over.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    only : sequence of str, optional
        Only of these.
    with_clubs : bool
        Whether finished clubs count.
    """
    from specdb.profiles.evidence import make_case
    from specdb.records.rows import Shaft, ShaftReading
    from specdb.schema import load_schema

    schema = load_schema()
    shafts, readings = _columns_of(
        reader, only, schema.table("shaft").field_names, schema.table("shaft_reading").field_names
    )
    own: dict[str, list[ShaftReading]] = {}
    for row in readings.to_pylist():
        own.setdefault(row["shaft_id"], []).append(ShaftReading(**row))
    found = (Shaft(**row) for row in sorted(shafts.to_pylist(), key=lambda row: str(row["id"])))
    clubs = finished_clubs(reader, only) if with_clubs else {}
    return [make_case(s, own.get(s.id, ()), clubs.get(s.id, ())) for s in found if s.raw_length_in is not None]


def _teaching_cases(reader: Reader) -> list[Case]:
    """Shafts with enough of an EI table to learn from, and others that were on the bench; of very many, every n-th."""
    from specdb.mechanics.estimated import BEYOND_A_TABLE
    from specdb.profiles.population import MAX_BENCHED, MAX_TEACHERS, MIN_STATIONS, is_benched, teaches

    counted = reader.arrow("shaft_reading", ["shaft_id"], where="quantity = 'ei'")["shaft_id"].value_counts()
    tabled = sorted(c["values"] for c in counted.to_pylist() if c["counts"] >= MIN_STATIONS)
    kinds = ", ".join(f"'{quantity}'" for quantity in BEYOND_A_TABLE)
    on_bench = reader.arrow("shaft_reading", ["shaft_id"], where=f"quantity IN ({kinds})")["shaft_id"]
    benched = sorted(set(on_bench.to_pylist()) - set(tabled))
    teachers = [c for c in cases_of(reader, _some(tabled, 2 * MAX_TEACHERS), with_clubs=False) if teaches(c)]
    return teachers + [c for c in cases_of(reader, _some(benched, MAX_BENCHED), with_clubs=False) if is_benched(c)]


def _some(keys: list[str], most: int) -> list[str]:
    return keys[:: -(-len(keys) // most)] if keys else []


def _learned(cases: Sequence[Case]) -> Population:
    from specdb.profiles.population import learn

    return learn(cases)


def _population_row(population: Population, counts: TeacherCounts) -> dict[str, object]:
    import numpy as np

    content = io.BytesIO()
    arrays = {**population.to_arrays(), _BENCHED: np.array([counts.benched])}
    np.savez_compressed(content, **arrays)  # type: ignore[arg-type]  # plain arrays by name
    error = [100.0 * float(e) if np.isfinite(e) else None for e in population.error]
    return {
        "recipe": population.recipe,
        "teachers": counts.shafts,
        "known_makers": counts.makers,
        "error_tip_pct": error[0],
        "error_mid_pct": error[1],
        "error_butt_pct": error[2],
        "content": base64.b64encode(content.getvalue()).decode("ascii"),
    }


def _estimate_and_keep(
    catalogue: Catalogue, wanted: Sequence[str], population: Population | None, number: int, made_at: int
) -> int:
    import pyarrow as pa

    from specdb.profiles.columns import EstimateColumns
    from specdb.profiles.estimate import estimate_many
    from specdb.profiles.population import builtin

    with catalogue.read() as reader:
        cases = cases_of(reader, wanted)
        if number == 0:
            facts = population_facts(reader)
            number = 0 if facts is None else facts.number
    columns = EstimateColumns.of(estimate_many(cases, population or builtin()))
    rows = pa.table(
        {
            "shaft_id": pa.array(columns.shaft_ids, pa.string()),
            "population_no": pa.array([number] * len(columns), pa.int64()),
            "group_no": pa.array(columns.group, pa.int64()),
            "state": _fixed(columns.state),
            "covariance": _fixed(columns.covariance),
            "piece_sd": pa.array(columns.piece_sd, pa.float64()),
            "readings": pa.array(columns.readings, pa.int64()),
            "outliers": pa.array(columns.outliers, pa.int64()),
        }
    )
    with catalogue.keep() as keeper:
        return keeper.keep_estimates(rows, made_at)


def _fixed(values: Any) -> pa.Array:  # noqa: ANN401 (a matrix of float32)
    import pyarrow as pa

    return pa.FixedSizeListArray.from_arrays(pa.array(values.ravel(), pa.float32()), values.shape[1])
