"""Files of many makes read into one form; what cannot be read is refused in a sentence with file and row."""

from __future__ import annotations

import datetime as dt
import io
import os
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table as OdsTable
from odf.table import TableCell, TableRow
from odf.text import P

from specdb.catalogue import book_limits, cells_csv
from specdb.catalogue.cells import guarded, unguarded
from specdb.catalogue.sheets import Sheet, read_sheet, write_sheet
from specdb.errors import ImportFileError, SpecdbError, UsageError


def columns(sheet: Sheet) -> list[list[object]]:
    return [c if isinstance(c, list) else c.to_pylist() for c in sheet.columns]


def put(folder: Path, content: str | bytes, name: str = "a.csv") -> Path:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return path


PLAIN = "id,maker,notes\ntrine,Northfold,soft\nvane,Eastmere,stiff\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"])
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_encodings_line_ends_and_delimiters(tmp_path: Path, encoding: str, ends: str, delimiter: str) -> None:
    text = PLAIN.replace("soft", "très doux 3½°").replace(",", delimiter).replace("\n", ends)
    mark = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}.get(encoding, b"")
    sheet = read_sheet(put(tmp_path, mark + text.encode(encoding)))
    assert sheet.headings == ["id", "maker", "notes"]
    assert columns(sheet) == [["trine", "vane"], ["Northfold", "Eastmere"], ["très doux 3½°", "stiff"]]
    assert list(sheet.rows) == [2, 3]


def test_the_plain_and_the_careful_reader_agree(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = put(tmp_path, 'id,a,b\n1,"x, ""y""","two\nlines"\n#,help,\n,,\n2,5" tip,\n#N/A,z,0\n')
    plain = read_sheet(path)
    monkeypatch.setattr(cells_csv, "_fast", lambda *_: None)
    careful = read_sheet(path)
    assert columns(plain) == columns(careful)
    assert list(plain.rows) == list(careful.rows) == [2, 5, 6]
    assert plain.top == careful.top or [t for t in plain.top if any(t[1])] == careful.top
    assert columns(plain)[1] == ['x, "y"', '5" tip', "z"]


def test_plain_files_take_the_quick_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError

    monkeypatch.setattr(cells_csv, "_careful", refuse)
    assert list(read_sheet(put(tmp_path, PLAIN)).rows) == [2, 3]


def test_a_line_that_names_the_delimiter(tmp_path: Path) -> None:
    sheet = read_sheet(put(tmp_path, "sep=|\nid|maker\na|x, y; z\n"))
    assert columns(sheet) == [["a"], ["x, y; z"]]
    assert list(sheet.rows) == [3]


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        ("id;w\na;62,5\n", ","),
        ("id;w\na;1.062,5\nb;0,5\n", ","),
        ("id;w\na;62.5\n", "auto"),
        ("id;w;x\na;62.5;3,5\n", "auto"),
        ('id,w\na,"62,5"\n', "auto"),
    ],
)
def test_the_decimal_mark_shows_in_files_with_semicolons(tmp_path: Path, text: str, mark: str) -> None:
    assert read_sheet(put(tmp_path, text)).decimal == mark


def test_blank_rows_and_help_rows_are_passed_over_and_still_count(tmp_path: Path) -> None:
    sheet = read_sheet(put(tmp_path, "\nid,maker\n# the key,who\n\na,x\n , \n\nb,y\n\n\n"))
    assert columns(sheet) == [["a", "b"], ["x", "y"]]
    assert list(sheet.rows) == [5, 8]


def test_empty_columns_at_the_end_are_no_columns(tmp_path: Path) -> None:
    sheet = read_sheet(put(tmp_path, "id,maker,,,\na,x,,,\nb,y,,,\n"))
    assert sheet.headings == ["id", "maker"]
    assert not sheet.ragged


def test_rows_that_do_not_go_with_the_headings_are_named(tmp_path: Path) -> None:
    sheet = read_sheet(put(tmp_path, "id,maker\na,x\nb\nc,y,z\nd,w,\n"))
    assert columns(sheet) == [["a", "d"], ["x", "w"]]
    assert [(r.row, r.cells) for r in sheet.ragged] == [(3, ["b"]), (4, ["c", "y", "z"])]
    assert "1 cells under 2 headings" in sheet.ragged[0].message
    assert "'z'" in sheet.ragged[1].message


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"\n\n , \n", "empty"),
        (b"id,Maker,maker \na,b,c\n", "'maker' stands above columns 2 and 3"),
        (b"id,,maker\na,b,c\n", "column 2 has no heading.*row 2"),
        (b'id,maker\na,"never closed\nb,c\n', "row 2.*never closed"),
        (b'id,maker\na,"closed" and more\n', "row 2.*twice"),
        (b"id,maker\na,x\nb,\x00\n", "line 3.*NUL"),
        (b"id,maker\na,\x81\xff\n", "line 2.*character"),
        (b"\xff\xfei\x00d\x00,", "UTF-16.*damaged"),
        (b"PK\x03\x04zzzz", "spreadsheet or zip"),
        (b"PAR1zzzz", "Parquet"),
        (b"sep=a\nid\n", "cannot stand between"),
        (b"id,maker\na," + b"x" * 200_000 + b'"y"\n', "more than 131072"),
        (b"Our shafts\nid,maker\na,x\n", "row 1 is a title.*row 2"),
        (b"Our shafts,,\n,,\nid,maker,flex\na,x,S\n", "row 1 is a title.*row 3"),
    ],
)
def test_what_is_no_table_is_refused_with_the_place(tmp_path: Path, content: bytes, said: str) -> None:
    path = put(tmp_path, content)
    with pytest.raises(ImportFileError, match=f"(?s){said}") as caught:
        read_sheet(path)
    assert str(path) in str(caught.value)
    assert caught.value.file == str(path)


@pytest.mark.parametrize("name", ["a.doc", "a", "a.json"])
def test_other_files_are_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(ImportFileError, match="by its ending"):
        read_sheet(put(tmp_path, PLAIN, name))


def test_missing_files_folders_and_sheets_of_text_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ImportFileError, match="there is no file"):
        read_sheet(tmp_path / "none.csv")
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(ImportFileError, match="is a folder"):
        read_sheet(tmp_path / "folder.csv")
    with pytest.raises(ImportFileError, match="no sheets"):
        read_sheet(put(tmp_path, PLAIN), sheet="Shafts")


@pytest.mark.parametrize(
    ("text", "headings"),
    [
        ("id;notes, long, and more\na;b\n", ["id", "notes, long, and more"]),
        ("Length, in;Weight, g\n45,5;62,5\n46,0;63,1\n", ["Length, in", "Weight, g"]),
        ("id,notes\na,x; y; z\nb,u; v\n", ["id", "notes"]),
        ('id,"a;b;c;d",e\n1,2,3\n', ["id", "a;b;c;d", "e"]),
        ("id\tlength, in\ta;b\nx\t45,5\tc\n", ["id", "length, in", "a;b"]),
    ],
)
def test_the_delimiter_is_the_one_the_rows_agree_on(tmp_path: Path, text: str, headings: list[str]) -> None:
    sheet = read_sheet(put(tmp_path, text))
    assert sheet.headings == headings
    assert not sheet.ragged


def test_one_bad_byte_does_not_turn_every_accent_of_a_file_into_others(tmp_path: Path) -> None:
    good = "id,notes\na,très doux\nb,für Hölzer\n".encode()
    with pytest.raises(ImportFileError, match=r"line 4: a character"):
        read_sheet(put(tmp_path, good + b"c,\xe9t\xe9\n"))
    with pytest.raises(ImportFileError, match=r"line 3: a character"):
        read_sheet(put(tmp_path, good[: good.rindex(b"\xc3") + 1]))  # cut within a character
    # Ø½ as Windows writes it is also one character of UTF-8; the rest of the file tells
    windows = put(tmp_path, "id,notes\na,Ø½ tip\nb,für Hölzer\n".encode("cp1252"))
    assert columns(read_sheet(windows))[1] == ["Ø½ tip", "für Hölzer"]


def test_what_is_no_ordinary_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "folder.xlsx").mkdir()
    with pytest.raises(ImportFileError, match="is a folder"):
        read_sheet(tmp_path / "folder.xlsx")
    with pytest.raises(ImportFileError, match="cannot be read"):
        read_sheet(tmp_path / ("n" * 5000 + ".csv"))
    with pytest.raises(ImportFileError, match="there is no file"):
        read_sheet(put(tmp_path, PLAIN) / "below.csv")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    with pytest.raises(ImportFileError, match="no ordinary file"):
        read_sheet(tmp_path / "pipe.csv")


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="the system has no such permissions")
@pytest.mark.parametrize("name", ["a.csv", "a.xlsx", "a.ods", "a.parquet"])
def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path, name: str) -> None:
    path = put(tmp_path, PLAIN, name)
    path.chmod(0)
    if root := os.geteuid() == 0:
        os.seteuid(65534)  # root may read everything
    try:
        with pytest.raises(ImportFileError, match=r"cannot be read.*[Pp]ermission denied"):
            read_sheet(path)
    finally:
        if root:
            os.seteuid(0)


def _book(path: Path, **sheets: list[list[Any]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        page = book.create_sheet(name)
        for row in rows:
            page.append(row)
    book.save(path)
    return path


def test_a_spreadsheet_keeps_its_own_types(tmp_path: Path) -> None:
    day = dt.date(2026, 3, 31)
    path = _book(tmp_path / "a.xlsx", A=[["id", "n", "ok", "on"], ["a", 62.5, True, day], ["b", 5, None, None]])
    sheet = read_sheet(path)
    assert columns(sheet) == [["a", "b"], [62.5, 5.0], [True, ""], [day, ""]]
    assert list(sheet.rows) == [2, 3]


def test_the_sheet_is_the_only_filled_one_or_the_one_asked_for(tmp_path: Path) -> None:
    path = _book(tmp_path / "a.xlsx", Shafts=[["id"], ["a"]], Heads=[["id"], ["b"]], Empty=[])
    assert columns(read_sheet(path, sheet="Heads")) == [["b"]]
    assert columns(read_sheet(path, prefer=("shaft", "shafts"))) == [["a"]]
    with pytest.raises(ImportFileError, match=r"several sheets.*Shafts, Heads"):
        read_sheet(path)
    with pytest.raises(ImportFileError, match=r"no sheet 'Grips'.*Shafts"):
        read_sheet(path, sheet="Grips")


def test_a_sheet_that_reaches_too_far_is_refused_before_it_is_laid_out(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    page: Any = book.active
    page["A1"], page["A2"] = "id", "a"
    page.cell(1_048_576, 16_384).value = "far out"
    path = tmp_path / "far.xlsx"
    book.save(path)
    with pytest.raises(ImportFileError, match="cells from its first to its last"):
        read_sheet(path)


def test_a_container_that_unpacks_to_too_much_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(book_limits, "MOST_BYTES", 1000)
    with pytest.raises(ImportFileError, match="unpacks"):
        read_sheet(_book(tmp_path / "a.xlsx", A=[["id"], ["a"]]))


def test_a_damaged_container_is_refused(tmp_path: Path) -> None:
    whole = _book(tmp_path / "a.xlsx", A=[["id"], ["a"]]).read_bytes()
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as box:
        box.writestr("xl/worksheets/sheet1.xml", "<worksheet/>")
    for content in (b"", whole[: len(whole) // 2], held.getvalue(), b"no spreadsheet"):
        for name in ("b.xlsx", "b.ods", "b.xls", "b.xlsb"):
            with pytest.raises(ImportFileError, match=f"b{name[1:]}"):
                read_sheet(put(tmp_path, content, name))


def _repacked(whole: bytes, name: str, content: bytes) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(held, "w") as new:
        for part in old.namelist():
            new.writestr(part, content if part == name else old.read(part))
    return held.getvalue()


def _ods() -> bytes:
    made = OpenDocumentSpreadsheet()
    page = OdsTable(name="Shafts")
    made.spreadsheet.addElement(page)
    for cells in (["id", "w"], ["a", "62.5"]):
        row = TableRow()
        page.addElement(row)
        for text in cells:
            cell = TableCell(valuetype="string")
            cell.addElement(P(text=text))
            row.addElement(cell)
    held = io.BytesIO()
    made.save(held)
    return held.getvalue()


ODS = _ods()
ODS_XML = zipfile.ZipFile(io.BytesIO(ODS)).read("content.xml")


def test_an_ods_table_that_never_ends_is_not_waited_for(tmp_path: Path) -> None:
    """The library that reads it would; so this is tried in a process that can be stopped."""
    path = put(tmp_path, _repacked(ODS, "content.xml", ODS_XML[: ODS_XML.index(b"62.5")]), "a.ods")
    code = "import pathlib, sys; from specdb.catalogue import sheets; sheets.read_sheet(pathlib.Path(sys.argv[1]))"
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, timeout=60, check=False
    )
    assert "is damaged: its contents break off" in done.stderr
    assert columns(read_sheet(put(tmp_path, ODS, "b.ods"))) == [["a"], ["62.5"]]


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        (
            "a.xlsx",
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600) + "EncryptedPackage".encode("utf-16-le"),
            "password",
        ),
        ("a.ods", _repacked(ODS, "META-INF/manifest.xml", b"<m><encryption-data/></m>"), "password"),
        ("a.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), r"old spreadsheet.*save it as \.xlsx"),
        ("a.xls", b"", r"save it as \.xlsx"),
        ("a.xlsx", b"id,w\na,1\n", r"looks like text.*\.csv"),
        ("a.ods", b"", "empty"),
        ("a.ods", ODS[:-40], "damaged"),
        ("a.ods", _repacked(ODS, "content.xml", ODS_XML.replace(b"UTF-8", b"UTF-W")), "damaged"),
    ],
)
def test_what_a_spreadsheet_file_really_is_is_said(tmp_path: Path, name: str, content: bytes, said: str) -> None:
    with pytest.raises(ImportFileError, match=said):
        read_sheet(put(tmp_path, content, name))


def _parquet() -> bytes:
    held = io.BytesIO()
    pq.write_table(pa.table({"id": ["a", "b"], "w": [62.5, None]}), held)
    return held.getvalue()


PARQUET = _parquet()


def _damaged(whole: bytes, edits: list[tuple[int, bytes, bool]]) -> bytes:
    for at, junk, over in edits:
        place = at % max(len(whole), 1)
        whole = whole[:place] + junk + whole[place + len(junk) * over :]
    return whole


EDITS = st.lists(st.tuples(st.integers(0, 1 << 20), st.binary(max_size=8), st.booleans()), min_size=1, max_size=4)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None)
@given(edits=EDITS, what=st.sampled_from(["ods", "ods inside", "parquet", "csv"]))
def test_damaged_files_are_read_or_refused(tmp_path: Path, edits: list[tuple[int, bytes, bool]], what: str) -> None:
    if what == "ods inside":
        content = _repacked(ODS, "content.xml", _damaged(ODS_XML, edits))
    else:
        content = _damaged({"ods": ODS, "parquet": PARQUET, "csv": PLAIN.encode("utf-16")}[what], edits)
    path = put(tmp_path, content, "a." + what.removesuffix(" inside"))
    try:
        read_sheet(path)
    except SpecdbError as error:
        said = str(error)
    else:
        return
    assert str(path) in said


def test_parquet(tmp_path: Path) -> None:
    table = pa.table({"id": pa.array(["a", None]).dictionary_encode(), "w": [1.5, None], "n": [1, 2]})
    pq.write_table(table, tmp_path / "a.parquet")
    sheet = read_sheet(tmp_path / "a.parquet")
    assert columns(sheet) == [["a", None], [1.5, None], [1, 2]]
    pq.write_table(pa.table({"id": [["a"]]}), tmp_path / "b.parquet")
    with pytest.raises(ImportFileError, match="list"):
        read_sheet(tmp_path / "b.parquet")
    with pytest.raises(ImportFileError, match="Parquet"):
        read_sheet(put(tmp_path, b"PAR1 and no more", "c.parquet"))


FORMULAS = [
    "=1+1",
    "#1 in the shop",
    "'#",
    "''# x",
    "+1",
    "-1",
    "@SUM(A1)",
    "\tx",
    "'=1",
    "''-x",
    "'plain",
    "a=b",
    "#N",
    '=cmd|"/c x"!A0',
]


@pytest.mark.parametrize("ending", ["csv", "tsv", "xlsx"])
def test_no_cell_that_is_written_is_a_formula_and_all_come_back(tmp_path: Path, ending: str) -> None:
    path = write_sheet(tmp_path / f"a.{ending}", ["id", "t"], [(f"r{i}", t) for i, t in enumerate(FORMULAS)])
    assert columns(read_sheet(path))[1] == FORMULAS
    if ending == "xlsx":
        cells = [c.value for c in openpyxl.load_workbook(path).active["B"]]
        assert all(openpyxl.load_workbook(path).active.cell(i + 1, 2).data_type != "f" for i in range(len(cells)))
    else:
        assert not any(line.split("\t" if ending == "tsv" else ",")[1].startswith(("=", "+", "-", "@"))
                       for line in path.read_text("utf-8-sig").splitlines() if "\t" in line or "," in line)  # fmt: skip


@given(st.text())
def test_a_guard_comes_off_again(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert not str(guarded(text)).startswith(("=", "+", "-", "@", "\t", "#"))


# what text files can hold: no NUL, no surrogates; white space alone is an empty cell to any reader
CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=12)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
@given(rows=st.lists(st.tuples(CELLS, CELLS), max_size=6), ending=st.sampled_from(["csv", "tsv"]))
def test_what_is_written_is_read_back(tmp_path: Path, rows: list[tuple[str, str]], ending: str) -> None:
    path = write_sheet(tmp_path / f"x.{ending}", ["id", "a", "b"], [(f"k{i}", *r) for i, r in enumerate(rows)])
    sheet = read_sheet(path)
    assert [list(r) for r in zip(*columns(sheet)[1:], strict=True)] == [list(r) for r in rows]


def test_a_help_row_is_written_so_that_it_is_passed_over(tmp_path: Path) -> None:
    for ending in ("csv", "xlsx"):
        path = write_sheet(tmp_path / f"a.{ending}", ["id", "on"], [["a", None]], help_row=["the key", "a day"])
        assert columns(read_sheet(path)) in ([["a"], [""]], [["a"], [None]])
    with pytest.raises(UsageError, match=r"\.xlsx"):
        write_sheet(tmp_path / "a.ods", ["id"], [])
