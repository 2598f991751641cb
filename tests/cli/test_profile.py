"""The stiffness profile of a shaft of the demonstration catalogue, from whatever is known of it."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path
from typing import Any

import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.package import import_package
from specdb.paths import demo_catalog_folder
from specdb.verbs.stiffness.estimates import refresh
from specdb.verbs.stiffness.profiles import STATIONS
from tests.cli.conftest import Command, in_own_process

TABLE = "hollin-reach-sker-50-r"
TWO_FIGURES = "quern-teasel-50-r"
LABELS = "ambrel-drugget-55-s"
BENCH = "quern-withy-65-s"  # one frequency, one deflection, one weight; no table
KINDS = (TABLE, TWO_FIGURES, LABELS, BENCH)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.duckdb"
    catalogue = Catalogue.create(path)
    import_package(catalogue, demo_catalog_folder())
    refresh(catalogue)
    return path


def _answer(specdb: Command, demo: Path, shaft: str) -> Any:
    ran = specdb("profile", shaft, "--json", "--catalogue", str(demo))
    assert ran.status == 0
    assert ran.err == ""
    return ran.json


def _third_sd(answer: Any, third: str) -> float:
    return float(answer["thirds"][third]["ei_sd_pct"])


@pytest.mark.parametrize("shaft", KINDS)
def test_for_a_person(shaft: str, demo: Path, specdb: Command) -> None:
    ran = specdb("profile", shaft, "--catalogue", str(demo))
    assert ran.status == 0
    assert ran.err == ""
    lines = ran.out.splitlines()
    assert max(len(line) for line in lines) <= 80
    assert "\x1b" not in ran.out
    figures = [line for line in lines if line.startswith(("in from tip", "EI  ", "± 1 sd"))]
    assert [len(line.split()) for line in figures] == [STATIONS + 3, STATIONS + 1, STATIONS + 3]
    assert any(0x2800 < ord(c) <= 0x28FF for line in lines for c in line)
    assert "distance from the raw tip, in" in ran.out
    assert "90 % band" in ran.out
    said = " ".join(ran.out.split())
    assert "Clubs with this shaft" in said
    assert "learned from the stiffness tables of" in said
    for part in ("data sheet:", "tip third", "middle third", "butt third", "published weight"):
        assert part in said


@pytest.mark.parametrize("shaft", KINDS)
def test_driver_shafts_come_out_as_driver_shafts_do(shaft: str, demo: Path, specdb: Command) -> None:
    """About 15 to 30 N·m² near the tip, 50 to 90 near the butt, rising (common practice, no source)."""
    stations = _answer(specdb, demo, shaft)["stations"]
    ei = [s["ei_n_m2"] for s in stations]
    assert 12.0 < ei[0] < 36.0
    assert 40.0 < ei[-1] < 100.0
    assert ei[0] < ei[3] < ei[-1]
    assert all(0.0 < s["ei_sd_n_m2"] < 0.5 * s["ei_n_m2"] for s in stations)


def test_a_table_is_followed(demo: Path, specdb: Command) -> None:
    with Catalogue(demo).read() as reader:
        rows = [r for r in reader.readings_of(TABLE) if r.quantity == "ei" and r.position_in is not None]
    assert len(rows) > 5
    answer = _answer(specdb, demo, TABLE)
    read = {r["name"]: r for r in answer["readings"]}
    for row in rows:
        found = read[f"EI at {row.position_in:g} in, published"]
        assert found["value"] == pytest.approx(row.value)
        assert found["model"] == pytest.approx(row.value, rel=0.10)
        assert found["unit"] == "N·m²"


def test_the_more_is_known_the_narrower(demo: Path, specdb: Command) -> None:
    table, two, labels, bench = (_answer(specdb, demo, shaft) for shaft in KINDS)
    for third in ("tip", "mid", "butt"):
        assert _third_sd(table, third) < 0.6 * _third_sd(labels, third)
    # two figures of ten percent each say little where maker and model are known well; a bench reading says more
    assert _third_sd(two, "tip") < 1.05 * _third_sd(labels, "tip")
    assert _third_sd(bench, "butt") < _third_sd(labels, "butt")
    names = [r["name"] for r in bench["readings"]]
    assert any(n.startswith("frequency at") and n.endswith("piece 1") for n in names)
    assert any(n.startswith("deflection at") for n in names)
    assert {"tip stiffness figure", "butt stiffness figure"} <= {r["name"] for r in two["readings"]}


def test_it_says_from_whom_was_learned_and_what_clubs_are_worked_out_from(demo: Path, specdb: Command) -> None:
    known = {shaft: _answer(specdb, demo, shaft) for shaft in (LABELS, TABLE, BENCH)}
    assert {a["population"]["shafts"] for a in known.values()} == {known[LABELS]["population"]["shafts"]}
    assert known[LABELS]["population"]["shafts"] > 50
    assert 2 <= known[LABELS]["population"]["makers"] <= 5
    assert [known[s]["used_by_substitutes"] for s in (LABELS, TABLE, BENCH)] == ["estimate", "table", "estimate"]


def test_json_is_all_there_is_on_standard_output(demo: Path, specdb: Command) -> None:
    ran = specdb("profile", "--shaft", BENCH, "--json", "--catalogue", str(demo))
    assert ran.out.startswith("{")
    assert "NaN" not in ran.out
    assert ran.err == ""
    answer = json.loads(ran.out)
    assert answer["shaft"] == BENCH
    assert answer["used_by_substitutes"] in ("table", "estimate")
    assert answer["weight_g"] > answer["weight_sd_g"] > 0.0
    assert answer["torque_deg"] > answer["torque_sd_deg"] > 0.0
    assert answer["balance_from_tip_in"] == pytest.approx(answer["raw_length_in"] / 2.0, rel=0.1)
    assert answer == _answer(specdb, demo, BENCH)


def _add(demo: Path, path: Path, *rows: dict[str, Any]) -> Path:
    path.write_bytes(demo.read_bytes())
    with Catalogue(path).write(by="tests", why="made for the tests", done="reading") as w:
        for row in rows:
            w.put("shaft_reading", {"shaft_id": TABLE, "sample": "piece 9", **row})
    return path


def test_an_outlier_is_named_and_asked_about(demo: Path, tmp_path: Path, specdb: Command) -> None:
    # a frequency as of a shaft half as stiff, as where the clip was heavier than was written down
    reading = {"quantity": "frequency", "value": 175.0, "free_length_in": 41.0, "tip_mass_g": 205.0}
    path = _add(demo, tmp_path / "odd.duckdb", reading)
    ran = specdb("profile", TABLE, "--catalogue", str(path))
    _, _, asked = ran.out.partition("To be asked about")
    assert asked.split("- ")[1].startswith("frequency at 41 in free length, piece 9 reads 175 cpm")
    assert "sd below" in " ".join(asked.split())
    odd = [r["name"] for r in _answer(specdb, path, TABLE)["readings"] if r["outlier"]]
    assert "frequency at 41 in free length, piece 9" in odd
    assert "To be asked about" not in specdb("profile", TABLE, "--catalogue", str(demo)).out


def test_what_to_ask_depends_on_the_reading(demo: Path, tmp_path: Path, specdb: Command) -> None:
    path = _add(demo, tmp_path / "ei.duckdb", {"quantity": "ei", "value": 51.0, "position_in": 20.0})
    said = " ".join(specdb("profile", TABLE, "--catalogue", str(path)).out.split())
    _, _, asked = said.partition("To be asked about")
    assert "- EI at 20 in, piece 9 reads 51 N·m²" in asked[:70]
    for part in ("typed right?", "place and span as written down?", "piece 9 and no other piece?"):
        assert part in asked
    assert "clamped as always?" not in asked
    # what it says to type works
    command = asked[asked.index("specdb list") : asked.index("' gives the keys")]
    assert "piece 9" in specdb(*shlex.split(command)[1:], "--catalogue", str(path)).out
    assert "X: EI reading to be asked about" in said


def test_many_outliers_are_told_worst_first_and_shortly(demo: Path, tmp_path: Path, specdb: Command) -> None:
    rows = [{"quantity": "ei", "value": v, "position_in": x} for x, v in ((20.0, 71.0), (36.0, 20.0), (10.0, 90.0))]
    path = _add(demo, tmp_path / "many.duckdb", *rows, {"quantity": "weight", "value": 71.0})
    out = specdb("profile", TABLE, "--catalogue", str(path)).out
    _, _, asked = out.partition("To be asked about, the worst first")
    sizes = [float(found) for found in re.findall(r", (\d+\.\d)\s+sd\s+(?:above|below)", asked)]
    assert len(sizes) == 3
    assert sizes == sorted(sizes, reverse=True)
    odd = [r for r in _answer(specdb, path, TABLE)["readings"] if r["outlier"]]
    assert len(odd) > 3
    said = " ".join(asked.split())
    assert all(r["name"] in said for r in odd)


@pytest.mark.parametrize("suffix", [".svg", ".png"])
def test_picture_is_written_and_never_over_another(suffix: str, demo: Path, tmp_path: Path, specdb: Command) -> None:
    target = tmp_path / f"picture{suffix}"
    words = ("profile", BENCH, "--picture", str(target), "--catalogue", str(demo))
    ran = specdb(*words)
    assert ran.status == 0
    assert ran.err == f"Picture written: {target}\n"
    first = target.read_bytes()
    again = specdb(*words)
    assert again.status == 2
    assert again.out == ""
    assert "--force" in again.err
    target.write_bytes(b"another")
    forced = specdb(*words, "--force", "--json")
    assert forced.status == 0
    assert json.loads(forced.out)["shaft"] == BENCH
    assert target.read_bytes() == first


@pytest.mark.parametrize("words", [("--picture", "x.gif"), ("--force",), ("--picture", "no/such/folder/x.svg")])
def test_wrong_use_of_the_picture(words: tuple[str, ...], demo: Path, specdb: Command) -> None:
    ran = specdb("profile", BENCH, *words, "--catalogue", str(demo))
    assert ran.status == 2
    assert ran.out == ""


@pytest.mark.parametrize(
    ("columns", "surroundings", "plain"),
    [
        ("80", {"PYTHONIOENCODING": "utf-8"}, False),
        ("80", {"PYTHONIOENCODING": "ascii"}, True),
        ("60", {"PYTHONIOENCODING": "utf-8", "TERM": "linux"}, True),
        ("40", {"PYTHONIOENCODING": "utf-8", "NO_COLOR": "1"}, False),
        ("200", {"PYTHONIOENCODING": "utf-8"}, False),
    ],
)
def test_picture_in_any_terminal(columns: str, surroundings: dict[str, str], plain: bool, demo: Path) -> None:
    ran = in_own_process("profile", BENCH, "--catalogue", str(demo), COLUMNS=columns, **surroundings)
    assert ran.status == 0
    assert "\x1b" not in ran.out
    assert plain is not any(0x2800 < ord(c) <= 0x28FF for c in ran.out)
    field = [line for line in ran.out.splitlines() if re.match(r"(\d\d| {2}) [|+│┤](?!.*---)", line)]
    assert len(field) == 18
    assert max(map(len, field)) <= int(columns)
    assert max(map(len, field)) > 0.8 * min(int(columns), 100)


def test_the_impossible_is_refused_with_the_reason(demo: Path, tmp_path: Path, specdb: Command) -> None:
    reading = {"quantity": "frequency", "value": 240.0, "free_length_in": 41.0}
    path = _add(demo, tmp_path / "refused.duckdb", reading)
    refused = _answer(specdb, path, TABLE)["refused"]
    assert [r["name"] for r in refused] == ["frequency at 41 in free length, piece 9"]
    assert "tip mass is not said" in refused[0]["reason"]
    assert "tip mass is not said" in specdb("profile", TABLE, "--catalogue", str(path)).out


def test_nothing_to_learn_from_is_said(tmp_path: Path, specdb: Command) -> None:
    path = tmp_path / "lone.duckdb"
    with Catalogue.create(path).write(by="tests", why="made for the tests", done="fill") as w:
        w.put("shaft", {"id": "lone", "club_type": "wood", "raw_length_in": 46.0, "weight_g": 60.0})
        w.put("shaft", {"id": "lengthless", "club_type": "wood", "weight_g": 60.0})
    ran = specdb("profile", "lone", "--catalogue", str(path))
    assert ran.status == 0
    assert "built-in figures" in ran.out
    ran = specdb("profile", "lengthless", "--catalogue", str(path))
    assert ran.status != 0
    assert "raw length" in ran.err


def test_unknown_shaft_names_near_ones(demo: Path, specdb: Command) -> None:
    ran = specdb("profile", "ambrel-drugget-55-z", "--catalogue", str(demo))
    assert ran.status != 0
    assert ran.out == ""
    assert LABELS in ran.err


def test_one_shaft_is_wanted(demo: Path, specdb: Command) -> None:
    for words in ((), (LABELS, "--shaft", TABLE)):
        ran = specdb("profile", *words, "--catalogue", str(demo))
        assert ran.status == 2
        assert ran.out == ""


def test_the_example_of_the_help_works(demo: Path, specdb: Command) -> None:
    last = specdb("profile", "--help").out.rstrip().splitlines()[-1].split()
    assert last[0] == "specdb"
    assert specdb(*last[1:], "--catalogue", str(demo)).status == 0
