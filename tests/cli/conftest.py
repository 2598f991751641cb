"""The shop's catalogue, and a way to run the command as a person does."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from specdb.cli.main import run
from tests.cli.shop import fill


@dataclass(frozen=True)
class Ran:
    """What a run of the command left."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Standard output as JSON."""
        return json.loads(self.out)


Command = Callable[..., Ran]


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A catalogue that no test changes."""
    path = tmp_path_factory.mktemp("shop") / "shop.duckdb"
    fill(path)
    return path


@pytest.fixture(scope="session")
def copied(filled: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy that tests with many examples may change."""
    path = tmp_path_factory.mktemp("copied") / "shop.duckdb"
    shutil.copy(filled, path)
    return path


@pytest.fixture
def shop(filled: Path, tmp_path: Path) -> Path:
    """A copy of the catalogue to change."""
    path = tmp_path / "shop.duckdb"
    shutil.copy(filled, path)
    return path


@pytest.fixture(autouse=True)
def _quiet_surroundings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in ("SPECDB_CATALOGUE", "SPECDB_BY", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.fixture
def specdb(capsys: pytest.CaptureFixture[str]) -> Command:
    """Run the command in this process."""

    def go(*words: str) -> Ran:
        capsys.readouterr()
        status = run(words)
        seen = capsys.readouterr()
        assert "Traceback" not in seen.out + seen.err
        return Ran(status, seen.out, seen.err)

    return go


@pytest.fixture
def specdb_command(specdb: Command) -> Command:
    """The command, where the name is taken by the package."""
    return specdb


def in_own_process(*words: str, **env: str) -> Ran:
    """Run the command as its own process."""
    done = subprocess.run(
        [sys.executable, "-m", "specdb", *words],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, **env},
        timeout=60,
        check=False,
    )
    return Ran(done.returncode, done.stdout, done.stderr)
