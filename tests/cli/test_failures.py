"""Whatever goes wrong ends as a sentence on standard error and the right exit status."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from specdb.cli import base, failures
from specdb.errors import MissingDataError
from tests.cli.conftest import Command, in_own_process


def _one_sentence(text: str) -> bool:
    return "Traceback" not in text and "Error" not in text and len(text.strip()) > 10


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["demop"], "Did you mean demo?"),
        (["substitute"], "Did you mean substitutes"),
        (["list", "shaft", "--jsn"], "--json"),
        (["list", "shft"], "there is no kind 'shft'"),
        (["list", "shaft", "--columns", "wieght_g"], "no field 'wieght_g'"),
        (["list"], "Missing argument 'KIND'"),
        (["set", "shaft", "reed-60-s", "weight_g"], "field=value"),
        (["set", "shaft", "reed-60-s", "wieght_g=60"], "no field 'wieght_g'"),
        (["set", "shaft", "reed-60-s", "weight_g=60", "weight_g=61"], "given twice"),
        (["set", "shaft", "reed-60-s", "id=other"], "key field 'id' cannot be changed"),
        (["set", "shaft", "reed-60-s", "club_type=woood"], "one of wood"),
        (["set", "--new", "shaft", "reed-60-s", "club_type=wood"], "already"),
        (["set", "shaft", "", "weight_g=60"], "key"),
        (["show", "shaft", ""], ""),
        (["mechanics"], "name a club"),
        (["mechanics", "--shaft", "reed-60-s"], "--head"),
        (["mechanics", "--shaft", "reed-60-s", "--head", "wren-460-10"], "--length"),
        (["mechanics", "--club", ""], "--club is empty"),
        (["stock", "receive", "weighting", "soft-hands", "1"], "no stock is kept"),
        (["stock", "receive", "shaft", "reed-60-s", "-1"], "-1"),
        (["stock", "receive", "shaft", "reed-60-s", "many"], "many"),
        (["supply", "set", "shaft", "reed-60-s"], "--ordered"),
        (["supply", "set", "shaft", "reed-60-s", "--expected", "someday"], "no day"),
        (["history", "shaft", "nobody"], "there is no shaft 'nobody'"),
        (["undo", "999"], "there is no change '999'"),
        (["weighting", "set", "default", "torque_weight=0"], "default weighting"),
        (["choose", "--club", "fit-driver", "--shaft", "reed-60-s"], "is the shaft that club"),
        (["template", "nokind"], "there is no kind"),
    ],
    ids=lambda value: " ".join(value)[:50] if isinstance(value, list) else "",
)
def test_wrong_use_is_2(words: list[str], said: str, shop: Path, specdb: Command) -> None:
    ran = specdb(*words, "--catalogue", str(shop))
    assert ran.status == 2
    assert ran.out == ""
    assert said in ran.err
    assert _one_sentence(ran.err)


@pytest.mark.parametrize(
    ("key", "near"),
    [("reed-60s", "reed-60-s"), ("REED-60-S", "reed-60-s"), ("sedge", "sedge-60-s"), ("ñandú ☃", "")],
)
def test_a_wrong_id_names_what_is_near(key: str, near: str, filled: Path, specdb: Command) -> None:
    for words in (["show", "shaft", key], ["mechanics", "--shaft", key, "--head", "wren-460-10", "--length", "45"]):
        ran = specdb(*words, "--catalogue", str(filled))
        assert ran.status == 2
        assert near in ran.err
        assert f"no shaft '{key}'" in ran.err


@pytest.mark.parametrize(
    "text", ["-3", "nan", "inf", "1e308", "45 furlongs", "12 g", "", "  ", "½½", "0", "1e-300", "--", "１２３４"]
)
def test_a_length_that_is_none_is_refused(text: str, filled: Path, specdb: Command) -> None:
    words = ["mechanics", "--shaft", "reed-60-s", "--head", "wren-460-10", f"--length={text}"]
    ran = specdb(*words, "--catalogue", str(filled))
    assert ran.status == 2
    assert ran.out == ""
    assert "--length" in ran.err


@pytest.mark.parametrize("text", ["-1", "nan", "1e308", "65 mm", "heavy", "6,5,0", "5000"])
def test_a_weight_that_is_none_is_refused(text: str, shop: Path, specdb: Command) -> None:
    ran = specdb("set", "shaft", "reed-60-s", f"weight_g={text}", "--catalogue", str(shop))
    assert ran.status == 2
    assert "Quantity" in ran.err or "Value not allowed" in ran.err
    assert specdb("show", "shaft", "reed-60-s", "--json", "--catalogue", str(shop)).json["values"]["weight_g"] == 64


COMMANDS_THAT_READ = [
    ["list", "shaft"],
    ["show", "shaft", "x"],
    ["history"],
    ["mechanics", "--club", "x"],
    ["fitup", "--club", "x"],
    ["substitutes", "--club", "x"],
    ["stock", "list"],
    ["supply", "list"],
    ["check"],
    ["undo"],
    ["retire", "shaft", "x"],
    ["set", "shaft", "x", "flex=S"],
    ["export", "somewhere"],
    ["backup", "copy.duckdb"],
]


@pytest.mark.parametrize("words", COMMANDS_THAT_READ, ids=" ".join)
def test_a_missing_catalogue_is_3(
    words: list[str], tmp_path: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    missing = tmp_path / "nowhere" / "none.duckdb"
    ran = specdb(*words, "--catalogue", str(missing))
    assert ran.status == 3
    assert ran.out == ""
    assert str(missing) in ran.err.replace("\n", " ")
    assert "specdb import" in ran.err
    assert not missing.exists()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("words", COMMANDS_THAT_READ, ids=" ".join)
def test_a_folder_as_catalogue_is_3(
    words: list[str], tmp_path: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "folder"
    folder.mkdir()
    ran = specdb(*words, "--catalogue", str(folder))
    assert ran.status == 3
    assert ran.out == ""
    assert _one_sentence(ran.err)


@pytest.mark.parametrize("content", [b"", b"not a database", b"\0" * 4096, bytes(range(256)) * 64])
def test_a_damaged_catalogue_is_3(content: bytes, tmp_path: Path, specdb: Command) -> None:
    path = tmp_path / "damaged.duckdb"
    path.write_bytes(content)
    ran = specdb("list", "shaft", "--catalogue", str(path))
    assert ran.status == 3
    assert _one_sentence(ran.err)
    assert path.read_bytes() == content


def test_the_catalogue_option_works_before_and_after_the_command(filled: Path, specdb: Command) -> None:
    before = specdb("--catalogue", str(filled), "list", "grip", "--json")
    after = specdb("list", "grip", "--json", "--catalogue", str(filled))
    assert before.status == after.status == 0
    assert before.json == after.json
    assert before.json[0]["id"] == "moss-50"


def test_the_environment_names_the_catalogue(filled: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SPECDB_CATALOGUE", str(filled))
    assert specdb("list", "grip", "--json").json[0]["id"] == "moss-50"


def test_debug_shows_the_traceback_and_nothing_else_does() -> None:
    plain = in_own_process("show", "shaft", "x", "--catalogue", "/nowhere/x.duckdb")
    full = in_own_process("show", "shaft", "x", "--catalogue", "/nowhere/x.duckdb", "--debug")
    assert plain.status == full.status == 3
    assert "Traceback" not in plain.err
    assert "Traceback" in full.err
    assert full.out == ""


def test_an_error_inside_is_3_and_says_how_to_see_more(
    filled: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: base.Settings) -> Path:
        raise ZeroDivisionError("something\nwith lines")

    monkeypatch.setattr(base.Settings, "path", property(broken))
    monkeypatch.setattr(failures, "_discard_output", lambda: None)  # standard output is the test's own
    ran = specdb("list", "shaft", "--catalogue", str(filled))
    assert ran.status == 3
    assert "--debug" in ran.err
    assert "ZeroDivisionError: something" in ran.err


@pytest.mark.parametrize(
    # the second is what DuckDB makes of an interrupt that comes while it works
    "raised",
    [KeyboardInterrupt(), RuntimeError("Query interrupted")],
)
def test_an_interrupt_is_130(raised: BaseException, specdb: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(_: base.Settings) -> Path:
        raise raised

    monkeypatch.setattr(base.Settings, "path", property(stopped))
    ran = specdb("list", "shaft")
    assert ran.status == 130
    assert ran.err.strip() == "Stopped."


def test_a_missing_measurement_is_no_wrong_use(filled: Path, specdb: Command) -> None:
    ran = specdb("mechanics", "--club", "fit-unmeasured", "--catalogue", str(filled))
    assert ran.status == int(MissingDataError.exit_code) == 1
    assert "stiffness" in ran.err


def test_a_reader_that_goes_away_is_no_error(filled: Path) -> None:
    command = [sys.executable, "-m", "specdb", "list", "shaft_reading", "--json", "--catalogue", str(filled)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.close()
        said = running.stderr.read()
        status = running.wait(timeout=60)
    assert said == b""
    assert status == 128 + 13


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_output_that_cannot_be_written_is_said(filled: Path) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "specdb", "list", "shaft", "--json", "--catalogue", str(filled)],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=60,
            check=False,
        )
    assert done.returncode == 3
    assert "No space left" in done.stderr
    assert "Traceback" not in done.stderr


def test_any_encoding_of_the_terminal_will_do(filled: Path) -> None:
    ran = in_own_process("mechanics", "--club", "fit-driver", "--catalogue", str(filled), PYTHONIOENCODING="ascii")
    assert ran.status == 0
    assert "+/-" in ran.out
    assert "N.m2" in ran.out


def test_bytes_that_are_no_text_are_survived(filled: Path) -> None:
    done = subprocess.run(
        [
            os.fsencode(sys.executable),
            b"-m",
            b"specdb",
            b"show",
            b"shaft",
            b"\xff\xfe",
            b"--catalogue",
            os.fsencode(filled),
        ],
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr
    assert done.stdout == b""


def test_an_empty_catalogue_option_leads_to_no_other_catalogue(
    filled: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SPECDB_CATALOGUE", str(filled))
    ran = specdb("list", "shaft", "--catalogue", "")
    assert ran.status == 2
    assert "--catalogue" in ran.err
    assert ran.out == ""
