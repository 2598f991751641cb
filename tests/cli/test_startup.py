"""What a start of the command loads, and how long its help takes."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("duckdb", "numpy", "scipy", "sklearn", "textual", "pyarrow", "rich", "openpyxl", "msgspec", "matplotlib")


def _loaded(code: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", f"import sys\n{code}\nprint('\\n'.join(sys.modules), file=sys.stderr)"],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return {name.partition(".")[0] for name in done.stderr.split()}


@pytest.mark.parametrize(
    "words", [["--help"], [], ["--version"], ["substitutes", "--help"], ["import", "--help"], ["completion", "zsh"]]
)
def test_help_loads_nothing_heavy(words: list[str]) -> None:
    loaded = _loaded(f"from specdb.cli.main import run\nassert run({words!r}) == 0")
    assert "click" in loaded  # the list is of what was really loaded
    assert not loaded & set(HEAVY)


def test_the_package_loads_nothing_heavy() -> None:
    loaded = _loaded("import specdb\nassert specdb.__version__")
    assert "specdb" in loaded
    assert not loaded & {*HEAVY, "click"}
