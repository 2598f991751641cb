"""Whatever a file holds: a report or a plain error, and an unchanged catalogue after any rejection."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from specdb.catalogue import Catalogue
from specdb.catalogue.importing import ImportReport, import_file
from specdb.errors import SpecdbError
from tests.catalogue.samples import HEAD, SHAFT

ENDINGS = ("csv", "tsv", "txt", "xlsx", "xls", "xlsb", "ods", "parquet", "dat")
QUICK = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)


@pytest.fixture(scope="module")
def fuzzed(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    catalogue = Catalogue.create(tmp_path_factory.mktemp("fuzz") / "shop.duckdb", wait_seconds=5)
    with catalogue.write() as w:
        w.put("shaft", SHAFT, mode="add")
        w.put("head", HEAD, mode="add")
    return catalogue


def digest(catalogue: Catalogue) -> str:
    return hashlib.sha256(catalogue.path.read_bytes()).hexdigest()


def attempt(catalogue: Catalogue, path: Path, content: bytes, kind: str = "shaft") -> ImportReport | None:
    """Import; a second time too where nothing was rejected."""
    path.write_bytes(content)
    before = digest(catalogue)
    said = ""
    try:
        report = import_file(catalogue, kind, path)
    except SpecdbError as error:
        said, report = str(error), None
    if report is None:
        assert said.strip()
        assert "Traceback" not in said
        assert digest(catalogue) == before
    elif report.rejected:
        assert (report.added, report.changed, report.unchanged) == (0, 0, 0)
        assert digest(catalogue) == before
        assert all(p.message and p.row >= 1 and p.file == str(path) for p in report.rejected)
    else:
        again = import_file(catalogue, kind, path)
        assert (again.added, again.changed) == (0, 0)
        assert again.unchanged == report.added + report.changed + report.unchanged
    return report


@QUICK
@given(content=st.binary(max_size=200), ending=st.sampled_from(ENDINGS))
@example(b"PK\x03\x04", "xlsx")
@example(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 600, "xls")
@example(b"PAR1" + b"\x00" * 20 + b"PAR1", "parquet")
@example(b"\xff\xfe", "csv")
@example(b"\xef\xbb\xbf", "csv")
@example(b"sep=", "csv")
@example(b'"', "csv")
@example(b"\r", "tsv")
def test_random_bytes(fuzzed: Catalogue, tmp_path: Path, content: bytes, ending: str) -> None:
    attempt(fuzzed, tmp_path / f"a.{ending}", content)


@pytest.fixture(scope="module")
def book() -> bytes:
    made = openpyxl.Workbook()
    page: Any = made.active
    for row in (["id", "club_type", "weight_g"], ["vane", "wood", 62.5], ["keel", "iron", "105"]):
        page.append(row)
    held = io.BytesIO()
    made.save(held)
    return held.getvalue()


@QUICK
@given(at=st.integers(0, 10_000), junk=st.binary(min_size=1, max_size=8), cut=st.booleans())
def test_damaged_spreadsheets(fuzzed: Catalogue, tmp_path: Path, book: bytes, at: int, junk: bytes, cut: bool) -> None:
    at %= len(book)
    damaged = book[:at] + junk + (b"" if cut else book[at + len(junk) :])
    attempt(fuzzed, tmp_path / "a.xlsx", damaged)


CELL = st.one_of(
    st.sampled_from(
        [
            "", " ", "trine", "wood", "46", "45 1/2", "8.5 mm", "NaN", "inf", "-inf", "1e308", "-1", "1e-320", "0x10",
            "=1+1", "@x", "+", "-", "'", '"', "#N/A", "# help", "\ufeff", "𝟙", "٣", "½", "1/0", "9" * 400, "x" * 5000,
            "true", "1,234", "31.3.2026", "99999-01-01", "0000-00-00", "a;b", "a\tb", "two\nlines",
            "\x0b", "\x85", "\u2028", "\x1f",
        ]
    ),
    st.text(st.characters(codec="utf-8"), max_size=8),
)  # fmt: skip
HEADINGS = st.lists(
    st.sampled_from(
        ["id", "maker", "model", "flex", "club_type", "raw_length_in", "Raw length (mm)", "weight_g", "tip_form",
         "price", "status", "notes", "reason", "", "colour"]
    ),
    min_size=1, max_size=6,
)  # fmt: skip


@settings(QUICK, max_examples=120)
@given(
    headings=HEADINGS,
    rows=st.lists(st.lists(CELL, max_size=7), max_size=5),
    delimiter=st.sampled_from(",;\t"),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"]),
)
def test_odd_cells(
    fuzzed: Catalogue, tmp_path: Path, headings: list[str], rows: list[list[str]], delimiter: str, encoding: str
) -> None:
    held = io.StringIO()
    csv.writer(held, delimiter=delimiter).writerows([headings, *rows])
    attempt(fuzzed, tmp_path / "a.csv", held.getvalue().encode(encoding, errors="replace"))


@settings(QUICK, max_examples=60)
@given(
    rows=st.lists(
        st.tuples(
            st.sampled_from(["trine", "gone", "", "TRINE"]),
            st.sampled_from(["ei", "weight", "deflection", "EI", "", "speed"]),
            CELL,
            CELL,
        ),
        max_size=5,
    )
)
def test_odd_readings(fuzzed: Catalogue, tmp_path: Path, rows: list[tuple[str, ...]]) -> None:
    held = io.StringIO()
    headings = ("shaft_id", "quantity", "value", "position_in", "sample")
    csv.writer(held).writerows([headings, *((*r, "p") for r in rows)])
    attempt(fuzzed, tmp_path / "a.csv", held.getvalue().encode("utf-8"), "shaft_reading")


SPREADSHEET_CELL = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**70), 2**70),
    st.floats(allow_nan=False, allow_infinity=False),
    # a cell of a spreadsheet has no time zone
    st.datetimes(min_value=dt.datetime(1900, 3, 1)),  # noqa: DTZ001
    st.dates(min_value=dt.date(1900, 3, 1)),
    st.times(),
    st.timedeltas(),
    st.text(st.characters(min_codepoint=32, max_codepoint=0xD7FF), max_size=8),
)


@settings(QUICK, max_examples=60)
@given(rows=st.lists(st.lists(SPREADSHEET_CELL, min_size=5, max_size=5), max_size=4))
def test_odd_cells_of_spreadsheets(fuzzed: Catalogue, tmp_path: Path, rows: list[list[Any]]) -> None:
    made = openpyxl.Workbook()
    page: Any = made.active
    for row in (["id", "flex", "weight_g", "club_type", "price"], *rows):
        page.append(row)
    held = io.BytesIO()
    made.save(held)
    attempt(fuzzed, tmp_path / "a.xlsx", held.getvalue())


def test_ten_thousand_columns(fuzzed: Catalogue, tmp_path: Path) -> None:
    for headings in (",".join(f"c{i}" for i in range(10_000)), "id" + "," * 10_000, ",".join(["id"] * 10_000)):
        report = attempt(fuzzed, tmp_path / "a.csv", f"{headings}\n{'x,' * 9_999}x\n".encode())
        assert report is None or report.rejected
    assert attempt(fuzzed, tmp_path / "a.csv", b"," * 100_000 + b"x\n" + b"," * 100_000 + b"\n") is None


def test_a_huge_cell(fuzzed: Catalogue, tmp_path: Path) -> None:
    for huge in (b"x" * 2_000_000, b'"' + b"x" * 20_000_000 + b'"', b"9" * 1_000_000):
        report = attempt(fuzzed, tmp_path / "a.csv", b"id,notes,weight_g\ntrine,y," + huge + b"\n")
        assert report is None or [p.field for p in report.rejected] == ["weight_g"]
        report = attempt(fuzzed, tmp_path / "a.csv", b"id,notes\ntrine," + huge + b"\n")
        assert report is None or [p.field for p in report.rejected] == ["notes"]
