"""What a start of the interface loads, and that command line and interface know nothing of each other."""

from __future__ import annotations

import subprocess
import sys


def _loaded(code: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", f"import sys\n{code}\nprint('\\n'.join(sys.modules))"],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return set(done.stdout.split())


def test_the_interface_loads_the_slow_libraries_only_when_they_are_needed() -> None:
    loaded = _loaded("import specdb.tui.app, specdb.tui.catalogue.place")
    assert "textual" in loaded  # the list is of what was really loaded
    tops = {name.partition(".")[0] for name in loaded}
    assert not tops & {"numpy", "sklearn", "scipy", "duckdb", "pyarrow", "openpyxl", "python_calamine"}


def test_the_interface_loads_nothing_of_the_command_line() -> None:
    loaded = _loaded("import specdb.tui.app, specdb.tui.catalogue.place")
    assert not {name for name in loaded if name.startswith("specdb.cli") or name.partition(".")[0] == "click"}


def test_the_command_line_loads_the_interface_by_name_only() -> None:
    loaded = _loaded("import specdb.cli.ui, specdb.cli.main")
    assert not {name for name in loaded if name.startswith("specdb.tui") or name.partition(".")[0] == "textual"}
