"""The demonstration, first on the small shop's own package, then on the one that ships."""

from __future__ import annotations

import shlex
import shutil
from pathlib import Path

import pytest

from specdb.verbs.catalogue import demonstration as demo
from tests.cli.conftest import Command


@pytest.fixture
def small(filled: Path, tmp_path: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The small shop takes the place of the demonstration catalogue; an empty folder to work in."""
    package = tmp_path / "package"
    assert specdb("export", str(package), "--catalogue", str(filled)).status == 0
    monkeypatch.setattr(demo, "demo_catalog_folder", lambda: package)
    folder = tmp_path / "work"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


def test_it_does_the_main_job(small: Path, specdb: Command) -> None:
    ran = specdb("demo")
    assert ran.status == 0
    assert ran.err == ""
    for said in ("backordered", "sedge-60-s", "THE FIT", "FITS", "THE BUILD", "Try next", "invented"):
        assert said in ran.out
    assert max(len(line) for line in ran.out.splitlines() if not line.startswith("  specdb")) <= 80
    assert sorted(p.name for p in small.iterdir() if p.suffix == ".duckdb") == [demo.FILE_NAME]


def test_what_it_tells_to_try_works(small: Path, specdb: Command) -> None:
    out = specdb("demo").out
    told = [line.strip() for line in out.splitlines() if line.startswith("  specdb ")]
    assert len(told) >= 5
    for line in told:
        ran = specdb(*shlex.split(line)[1:])
        assert ran.status == 0, (line, ran.err)


def test_the_second_run_uses_what_is_there(small: Path, specdb: Command) -> None:
    specdb("demo")
    specdb("set", "shaft", "rush-50-s", "weight_g=55", "--catalogue", demo.FILE_NAME)
    ran = specdb("demo")
    assert ran.out.startswith("Using the demonstration catalogue")
    kept = specdb("show", "shaft", "rush-50-s", "--json", "--catalogue", demo.FILE_NAME).json
    assert kept["values"]["weight_g"] == 55.0


@pytest.mark.parametrize("what", ["shop", "text", "folder"])
def test_anything_else_is_left_alone(what: str, small: Path, shop: Path, specdb: Command) -> None:
    path = small / "mine.duckdb"
    if what == "shop":
        path = shop
    elif what == "text":
        path.write_text("my notes")
    else:
        path.mkdir()
    before = None if path.is_dir() else path.read_bytes()
    ran = specdb("demo", "--catalogue", str(path))
    assert ran.status == 1
    assert ran.out == ""
    assert "--catalogue" in ran.err
    assert path.is_dir() if before is None else path.read_bytes() == before


def test_the_environment_does_not_send_it_into_the_shops_own_catalogue(
    small: Path, shop: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = shop.read_bytes()
    monkeypatch.setenv("SPECDB_CATALOGUE", str(shop))
    assert specdb("demo").status == 0
    assert shop.read_bytes() == before
    assert (small / demo.FILE_NAME).exists()


def test_a_broken_package_leaves_nothing_half_made(small: Path, specdb: Command, tmp_path: Path) -> None:
    (tmp_path / "package" / "shaft.csv").write_text("id,club_type\nx,spoon\n")
    ran = specdb("demo")
    assert ran.status in (1, 3)
    assert list(small.iterdir()) == []


@pytest.fixture(scope="session")
def shipped(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration catalogue as it ships."""
    path = tmp_path_factory.mktemp("shipped") / "demo.duckdb"
    demo.demo_catalogue(path)
    return path


def test_the_one_that_ships_does_the_main_job(tmp_path: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    out = specdb("demo").out
    for said in ("backordered", "THE ANSWER", "THE FIT", "THE BUILD", "Try next"):
        assert said in out
    assert max(len(line) for line in out.splitlines() if not line.startswith("  specdb")) <= 80
    for line in (line.strip() for line in out.splitlines() if line.startswith("  specdb ")):
        ran = specdb(*shlex.split(line)[1:])
        assert ran.status == 0, (line, ran.err)


def test_every_fitted_club_that_ships_is_answered(shipped: Path, specdb: Command) -> None:
    here = ("--json", "--catalogue", str(shipped))
    clubs = specdb("list", "club", *here).json
    assert len(clubs) >= 12
    measured = 0
    for club in clubs:
        words = ("--club", club["id"], *here)
        fit = specdb("fitup", *words)
        assert fit.status == 0, (club["id"], fit.out)
        numbers = specdb("mechanics", *words)
        if numbers.status == 0:
            measured += 1
            assert specdb("substitutes", *words, "--top", "3").status == 0, club["id"]
        else:
            assert "stiffness" in numbers.err
    assert measured >= 10


# these need a file, a change, a backup or a terminal that this test has not
_NEEDS_MORE = (
    "import ",
    "import-package",
    "order import ",
    "restore",
    "undo 17",
    "history --change",
    "completion",
    "demo",
    "weighting show ",
    "ui",
)


def _examples() -> list[str]:
    from tests.cli.test_help import ALL

    found = [line for command in ALL.values() for line in getattr(command, "examples", ())]
    return [line for line in dict.fromkeys(found) if not line.removeprefix("specdb ").startswith(_NEEDS_MORE)]


@pytest.mark.parametrize("line", _examples())
def test_examples_of_the_help_work_on_the_demonstration(
    line: str, shipped: Path, tmp_path: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    copy = tmp_path / "demo.duckdb"
    shutil.copy(shipped, copy)
    monkeypatch.setenv("SPECDB_CATALOGUE", str(copy))
    ran = specdb(*shlex.split(line)[1:])
    # 1 is an answer too, but not what an example should end with
    assert ran.status == 0, ran.out + ran.err
