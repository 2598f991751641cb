"""Templates name every field in order and say what goes in it."""

from __future__ import annotations

import csv
import errno
from pathlib import Path

import openpyxl
import pytest

from specdb.catalogue.templates import write_template
from specdb.errors import CatalogueFullError, UnknownKindError, UsageError
from specdb.schema import load_schema

KINDS = load_schema().kinds


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("ending", ["csv", "tsv"])
def test_text_templates(tmp_path: Path, kind: str, ending: str) -> None:
    path = write_template(kind, tmp_path / f"t.{ending}")
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file, delimiter="," if ending == "csv" else "\t"))
    assert tuple(rows[0]) == load_schema().table(kind).field_names
    assert rows[1][0].startswith("# ")
    assert all(rows[1])
    assert len(rows) == 2


def test_spreadsheet_template_offers_the_allowed_words(tmp_path: Path) -> None:
    path = write_template("shaft", tmp_path / "shaft.xlsx")
    sheet = openpyxl.load_workbook(path).active
    assert [c.value for c in sheet[1]] == list(load_schema().table("shaft").field_names)
    lists = {str(rule.sqref): rule.formula1 for rule in sheet.data_validations.dataValidation}
    assert any("wood,hybrid,iron,wedge,putter" in text for text in lists.values())
    assert sheet.freeze_panes == "B3"


def test_what_cannot_be_a_template_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnknownKindError):
        write_template("bicycle", tmp_path / "a.csv")
    with pytest.raises(UsageError, match="not imported"):
        write_template("change", tmp_path / "a.csv")
    with pytest.raises(UsageError, match="csv"):
        write_template("shaft", tmp_path / "a.doc")


def test_units_are_written_as_the_trade_writes_them(tmp_path: Path) -> None:
    text = write_template("shaft", tmp_path / "t.csv").read_text(encoding="utf-8-sig").split("\n", 1)[1]
    assert "N·m²" in text
    assert not any(raw in text for raw in ("n_m2", "in_per_in"))


def test_a_template_that_cannot_be_written_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(path: Path, _: bytes) -> int:
        path.touch()
        raise OSError(errno.ENOSPC, "No space left on device")

    path = tmp_path / "t.xlsx"
    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(CatalogueFullError):
        write_template("shaft", path)
    assert not path.exists()
