"""Instruments and deliveries on the demonstration catalogue."""

from __future__ import annotations

from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.package import import_package
from specdb.paths import demo_catalog_folder
from tests.cli.conftest import Command

METER = "frequency meter 2"
READ_WITH_IT = "hollin-reach-holm-iron-95-x"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.duckdb"
    import_package(Catalogue.create(path), demo_catalog_folder())
    return path


def test_the_meter_that_reads_too_little(demo: Path, specdb: Command) -> None:
    """The demonstration's meter was made to read 0.6 cpm and a hundredth too little."""
    here = ("--catalogue", str(demo))
    answer = specdb("instruments", METER, "--json", *here).json
    found = answer["instruments"][0]
    assert (found["instrument"], found["quantity"], found["unit"]) == (METER, "frequency", "cpm")
    assert found["scale"] == pytest.approx(0.990, abs=3.0 * found["scale_sd"])
    assert found["offset"] == pytest.approx(-0.6, abs=3.0 * found["offset_sd"])
    assert found["off_at_references"] == pytest.approx(-0.6 - 0.01 * 268.75, abs=3.0 * found["off_at_references_sd"])
    assert (found["reference_readings"], found["first_day"], found["last_day"]) == (12, "2026-03-02", "2026-03-05")
    assert found["references"] == ["steel rod A", "steel rod B"]
    assert found["drift_warning"] is None
    assert answer["questions"] == []
    ran = specdb("instruments", *here)
    assert ran.status == 0
    assert max(map(len, ran.out.splitlines())) <= 80
    said = " ".join(ran.out.split())
    assert "2026-03-05" in said
    assert "Used on shafts, never read on a reference" in said
    assert "- torque jig: torque, 3 readings" in said


@pytest.mark.parametrize("words", [("show", "shaft", READ_WITH_IT), ("profile", READ_WITH_IT)], ids=" ".join)
def test_both_values_are_shown(words: tuple[str, ...], demo: Path, specdb: Command) -> None:
    said = " ".join(specdb(*words, "--catalogue", str(demo)).out.split())
    assert "frequency at 33 in free length, piece 1: read 291, corrected 29" in said
    assert f"cpm ({METER} of 2026-03-02)" in said
    told = specdb(*words, "--json", "--catalogue", str(demo)).json["corrected"]
    assert [(c["read"], c["unit"], c["calibrated_on"]) for c in told] == [(291.0, "cpm", "2026-03-02")]
    assert told[0]["corrected"] == pytest.approx((291.0 + 0.6) / 0.990, abs=2.0)


def test_a_drift_and_a_nonsense_reading_are_told(shop: Path, specdb: Command) -> None:
    here = ("--catalogue", str(shop))
    ran = specdb("instruments", *here)
    assert ran.status == 0
    assert "No instrument is calibrated" in ran.out
    words = ("set", "--new", "reference_reading", "-", "instrument=meter 1", "reference=rod", "quantity=frequency")
    for day, value in (("2026-03-02", 250), ("2026-04-02", 250), ("2026-05-02", 240), ("2026-05-02", 75)):
        for repeat in (1, 2, 3) if value != 75 else (9,):
            more = (f"value={value}", "true_value=250", f"taken_on={day}", f"repeat={repeat}")
            assert specdb(*words, *more, *here).status == 0
    said = " ".join(specdb("instruments", *here).out.split())
    assert "meter 1 now reads 9" in said or "meter 1 now reads 10" in said
    assert "cpm less than before" in said
    assert "To be asked about" in said
    assert "meter 1 read 75 cpm on 2026-05-02 on reference 'rod', which is 250 cpm" in said
    assert specdb("instruments", "metre 1", *here).status == 2
    assert "did you mean meter 1" in specdb("instruments", "metre 1", *here).err


def test_reference_readings_come_from_a_file(shop: Path, tmp_path: Path, specdb: Command) -> None:
    here = ("--catalogue", str(shop))
    file = tmp_path / "rods.csv"
    assert specdb("template", "reference_reading", str(file), *here).status == 0
    heading = file.read_text(encoding="utf-8").splitlines()[0].split(",")
    assert {"instrument", "reference", "true_value", "true_sd", "repeat"} <= set(heading)
    file.write_text(
        "instrument,reference,quantity,value,true value,free length,taken on\n"
        "jig 1,bar,ei,47,45,,2026-03-02\njig 1,bar,ei,47,45,,2026-03-02\n"
        "scale,100 g,weight,3.55 oz,100.0,,2026-03-02\n",
        encoding="utf-8",
    )
    assert specdb("import", "reference_reading", str(file), *here).status == 0
    assert "0 added, 0 changed" in specdb("import", "reference_reading", str(file), *here).out
    found = {i["instrument"]: i for i in specdb("instruments", "--json", *here).json["instruments"]}
    assert found["jig 1"]["reference_readings"] == 2
    assert found["scale"]["off_at_references"] == pytest.approx(3.55 * 28.349523125 - 100.0, abs=0.3)
    file.write_text("instrument,reference,quantity,value,true_value\njig 1,bar,ei,47,4500\n", encoding="utf-8")
    ran = specdb("import", "reference_reading", str(file), *here)
    assert ran.status == 1
    assert "true_value is 4500" in ran.out + ran.err


def test_a_club_built_from_a_measured_piece(demo: Path, specdb: Command) -> None:
    answer = specdb("mechanics", "--club", "tansley-driver", "--json", "--catalogue", str(demo)).json
    assert "the measured piece 1 was taken" in answer["assumed"]
    # measured on the built club: 261 cpm
    assert answer["frequency_cpm"] == pytest.approx(261.0, abs=3.0 * answer["sd"]["frequency_cpm"] + 1.0)


@pytest.mark.parametrize(
    "words", [("--pieces", "piece 2"), ("--since", "2026-03-01"), ("--pieces", "piece 1, piece 2")], ids=" ".join
)
def test_a_batch_is_answered(words: tuple[str, ...], demo: Path, specdb: Command) -> None:
    asked = ("batch", "hollin-reach-holm-60-s", *words, "--catalogue", str(demo))
    ran = specdb(*asked)
    assert ran.status == 0
    assert max(map(len, ran.out.splitlines())) <= 80
    answer = specdb(*asked, "--json").json
    assert answer["verdict"] in ("softer", "stiffer", "same")
    assert answer["sentence"] in " ".join(ran.out.split())
    assert answer["frequency_of"] == "a butt frequency at 41 in free length with 205 g"
    assert 0.0 <= answer["chance"] <= 1.0
    # frequency goes with the root of stiffness
    part = 1.0 + answer["frequency_difference_cpm"] / answer["frequency_cpm"]
    assert part**2 == pytest.approx(1.0 + answer["ei_difference_pct"] / 100.0, rel=1e-9)


def test_a_batch_that_cannot_be(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    shaft = "hollin-reach-holm-60-s"
    for words in ((), ("--pieces", "piece 9"), ("--since", "2027-01-01"), ("--since", "soon"), ("--pieces", " , ")):
        ran = specdb("batch", shaft, *words, *here)
        assert ran.status == 2, words
        assert ran.out == ""
    assert "piece 1" in specdb("batch", shaft, "--pieces", "piece 9", *here).err


@pytest.mark.parametrize("command", ["instruments", "batch"])
def test_the_example_of_the_help_works(command: str, demo: Path, specdb: Command) -> None:
    import shlex

    last = shlex.split(specdb(command, "--help").out.rstrip().splitlines()[-1])
    assert last[0] == "specdb"
    assert specdb(*last[1:], "--catalogue", str(demo)).status == 0
