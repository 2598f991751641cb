"""What the shell is offered."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from tests.cli.conftest import Command, in_own_process
from tests.cli.shop import SHAFTS


def _offered(filled: Path, *typed: str) -> list[str]:
    ran = in_own_process(
        COMP_WORDS=" ".join(("specdb", *typed)),
        COMP_CWORD=str(len(typed)),
        _SPECDB_COMPLETE="bash_complete",
        SPECDB_CATALOGUE=str(filled),
    )
    assert ran.err == ""
    return [line.partition(",")[2] for line in ran.out.splitlines() if line]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_script_for_every_shell(shell: str, specdb: Command) -> None:
    ran = specdb("completion", shell)
    assert ran.status == 0
    assert f"_SPECDB_COMPLETE={shell}_complete" in ran.out


def test_the_bash_script_is_bash(specdb: Command) -> None:
    script = specdb("completion", "bash").out
    subprocess.run(["bash", "-n"], input=script, text=True, check=True, timeout=20)


def test_commands_and_options(filled: Path) -> None:
    assert _offered(filled, "su") == ["substitutes", "supply"]
    assert "--tip-trim" in _offered(filled, "mechanics", "--t")


def test_kinds(filled: Path) -> None:
    assert _offered(filled, "show", "sh") == ["shaft", "shaft_reading"]


def test_keys_of_the_kind(filled: Path) -> None:
    assert _offered(filled, "show", "shaft", "reed") == ["reed-60-s", "reed-60-x"]
    assert _offered(filled, "show", "adapter_setting", "plume-335/S") == ["plume-335/STD"]
    assert set(SHAFTS) <= set(_offered(filled, "mechanics", "--shaft", "''"))


def test_fields_and_their_words(filled: Path) -> None:
    assert _offered(filled, "set", "shaft", "reed-60-s", "tip_d") == ["tip_dia_in="]
    assert _offered(filled, "set", "shaft", "reed-60-s", "tip_form=") == ["tip_form=parallel", "tip_form=taper"]


def test_nothing_is_offered_and_nothing_said_without_a_catalogue(tmp_path: Path) -> None:
    assert _offered(tmp_path / "none.duckdb", "show", "shaft", "r") == []
    assert _offered(tmp_path, "show", "nokind", "r") == []
