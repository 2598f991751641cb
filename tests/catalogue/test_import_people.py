"""Spreadsheets as people make them.

Conversions are exact by definition: inch 25.4 mm, avoirdupois ounce 28.349523125 g (NIST SP 811, appendix B).
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from specdb.catalogue import Catalogue
from specdb.catalogue.importing import ImportReport, import_file
from specdb.catalogue.templates import write_template
from specdb.errors import ImportFileError
from specdb.schema import load_schema


def _xlsx(path: Path, rows: list[list[Any]]) -> Path:
    book = openpyxl.Workbook()
    page: Any = book.active
    for row in rows:
        page.append(row)
    book.save(path)
    return path


def _ods(path: Path, rows: list[list[Any]]) -> Path:
    book = OpenDocumentSpreadsheet()
    page = Table(name="Sheet1")
    for row in rows:
        line = TableRow()
        for value in row:
            line.addElement(_ods_cell(value))
        page.addElement(line)
    # as programs write them: a last cell repeated to the edge of the sheet
    last = TableRow(numberrowsrepeated=1_000_000)
    last.addElement(TableCell(numbercolumnsrepeated=16_384))
    page.addElement(last)
    book.spreadsheet.addElement(page)
    book.save(str(path))
    return path


def _ods_cell(value: object) -> TableCell:
    if value is None:
        return TableCell()
    if isinstance(value, bool):
        return TableCell(valuetype="boolean", booleanvalue=str(value).lower())
    if isinstance(value, (int, float)):
        return TableCell(valuetype="float", value=value)
    if isinstance(value, dt.date):
        return TableCell(valuetype="date", datevalue=value.isoformat())
    cell = TableCell(valuetype="string")
    cell.addElement(P(text=str(value)))
    return cell


def _told(report: ImportReport) -> str:
    return "\n".join(f"{p.row} {p.field} {p.message}" for p in report.rejected)


def test_semicolons_decimal_commas_and_an_old_code_page(shop: Catalogue, tmp_path: Path) -> None:
    path = tmp_path / "Schäfte.csv"
    text = (
        "Id;Maker;Model;Club type;Raw length (mm);Weight (g);Tip dia in;Price;Currency;Notes\r\n"
        "alto;Möwe & Söhne;Alto;Wood;1.168,4;62,5;0,335;1.234,50;EUR;weich, 3°\r\n"
        "basso;Möwe & Söhne;Basso;IRON;1041,4;105;,370;99;EUR;\r\n"
    )
    path.write_bytes(text.encode("cp1252"))
    report = import_file(shop, "shaft", path)
    assert (report.added, _told(report)) == (2, "")
    with shop.read() as r:
        alto, basso = r.get("shaft", "alto"), r.get("shaft", "basso")
    assert alto.raw_length_in == pytest.approx(46.0)
    assert (alto.maker, alto.club_type, alto.notes) == ("Möwe & Söhne", "wood", "weich, 3°")
    assert (alto.weight_g, alto.tip_dia_in, alto.price) == (62.5, 0.335, 1234.5)
    assert basso.raw_length_in == pytest.approx(41.0)
    assert (basso.tip_dia_in, basso.club_type) == (0.37, "iron")


def test_the_rejected_rows_of_such_a_file_read_the_same_way(shop: Catalogue, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(
        "id;club_type;weight_g;price;currency\na;wood;62,5;1,125;EUR\nb;spoon;63,5;1,125;EUR\n", encoding="cp1252"
    )
    report = import_file(shop, "shaft", path, accept_good=True)
    assert report.rejected_file is not None
    mended = report.rejected_file.read_text("utf-8-sig").replace(";spoon;", ";wood;")
    report.rejected_file.write_text(mended, encoding="utf-8")
    assert import_file(shop, "shaft", report.rejected_file).added == 1
    with shop.read() as r:
        assert [(r.get("shaft", k).weight_g, r.get("shaft", k).price) for k in "ab"] == [(62.5, 1.125), (63.5, 1.125)]


def test_the_decimal_mark_is_that_of_the_numbers(shop: Catalogue, tmp_path: Path) -> None:
    # names and notes have marks of their own
    german = "id;model;club_type;weight_g;price;currency\na;Fen 2.0;wood;62,5;1.250;EUR\nb;2.0;wood;63;99;EUR\n"
    english = "id;model;club_type;weight_g;price;currency\nc;2,5;wood;62.5;1.250;EUR\nd;2,5;wood;63;99;EUR\n"
    quoted = 'id,model,club_type,weight_g,price,currency\ne,2.0,wood,"62,5",1.250,EUR\nf,x,wood,"63,25 g",99,EUR\n'
    for number, text in enumerate((german, english, quoted)):
        path = tmp_path / f"{number}.csv"
        path.write_text(text, encoding="utf-8")
        assert import_file(shop, "shaft", path).added == 2
    with shop.read() as r:
        assert [r.get("shaft", k).price for k in "ace"] == [1250.0, 1.25, 1250.0]
        assert [r.get("shaft", k).weight_g for k in "acef"] == [62.5, 62.5, 62.5, 63.25]
    # thousands with a comma, as a spreadsheet in English writes them, contradict nothing and stay in doubt
    path = tmp_path / "us.csv"
    path.write_text('id,club_type,price,currency\nh,wood,"1,234",USD\ni,wood,"1,234.50",USD\n', encoding="utf-8")
    report = import_file(shop, "shaft", path)
    assert [(p.row, p.field) for p in report.rejected] == [(2, "price")]


def test_thousands_among_rejected_rows_stay_thousands(shop: Catalogue, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(
        "id;club_type;price;currency;Raw length (mm);notes\n"
        "a;spoon;1.250;EUR;1.168,4;1.250\nb;spoon;1.250.000;EUR;;\nc;wood;2,5;EUR;;\n",
        encoding="utf-8",
    )
    report = import_file(shop, "shaft", path, accept_good=True)
    assert report.rejected_file is not None
    mended = report.rejected_file.read_text("utf-8-sig").replace(";spoon;", ";wood;").replace("1.168,4", "46 in")
    assert ";1250000;" in mended
    report.rejected_file.write_text(mended.replace("1250000", "1.100"), encoding="utf-8")
    import_file(shop, "shaft", report.rejected_file)
    with shop.read() as r:
        a = r.get("shaft", "a")
    assert (a.price, a.raw_length_in, a.notes) == (1250.0, 46.0, "1.250")


def test_text_as_a_spreadsheet_saves_unicode(shop: Catalogue, tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_bytes("id\tclub_type\traw_length_in\r\nalto\twood\t45½\r\n".encode("utf-16"))
    assert import_file(shop, "shaft", path).added == 1
    with shop.read() as r:
        assert r.get("shaft", "alto").raw_length_in == 45.5


ROWS: list[list[Any]] = [
    ["Id", "Club type", "Club number", "Raw length (in)", "Weight (g)", "Tip dia in", "Flex", None, None],
    ["alto", "wood", 1, "45 1/2", 62.5, ".335", 5.5, None, None],
    ["basso", "mid iron", 7, "41", "3.5 oz", "8.5 mm", 6, None, None],
    [None, None, None, None, None, None, None, None, None],
    ["tenor", "iron", "PW", 39.5, "105", 0.37, True, None, None],
]


@pytest.mark.parametrize("make", [_xlsx, _ods])
def test_numbers_as_text_fractions_and_units_in_a_spreadsheet(shop: Catalogue, tmp_path: Path, make: Any) -> None:
    path = make(tmp_path / f"a.{make.__name__[1:]}", ROWS)
    report = import_file(shop, "shaft", path, accept_good=True)
    assert report.added == 2
    assert [(p.row, p.field, p.value) for p in report.rejected] == [(3, "club_type", "mid iron")]
    with shop.read() as r:
        alto, tenor = r.get("shaft", "alto"), r.get("shaft", "tenor")
    assert (alto.raw_length_in, alto.weight_g, alto.tip_dia_in) == (45.5, 62.5, 0.335)
    assert (alto.club_number, alto.flex) == ("1", "5.5")
    assert (tenor.raw_length_in, tenor.weight_g, tenor.club_number, tenor.flex) == (39.5, 105.0, "PW", "yes")
    assert report.rejected_file is not None
    mended = report.rejected_file.read_text("utf-8-sig").replace("mid iron", "iron")
    report.rejected_file.write_text(mended, encoding="utf-8")
    assert import_file(shop, "shaft", report.rejected_file).added == 1
    with shop.read() as r:
        basso = r.get("shaft", "basso")
    assert basso.weight_g == pytest.approx(99.2233309375)
    assert basso.tip_dia_in == pytest.approx(8.5 / 25.4)


@pytest.mark.parametrize("make", [_xlsx, _ods])
def test_days_and_yes_and_no(shop: Catalogue, tmp_path: Path, make: Any) -> None:
    rows = [
        ["kind", "item_id", "ordered", "expected_on", "backordered"],
        ["shaft", "trine", 5, dt.date(2026, 3, 31), True],
        ["head", "bluff", "2", "31 Mar 2026", "no"],
        ["head", "bluff", 2.5, "03/04/2026", "perhaps"],
    ]
    report = import_file(shop, "supply", make(tmp_path / f"a.{make.__name__[1:]}", rows), accept_good=True)
    assert report.added == 2
    assert [(p.row, p.field) for p in report.rejected] == [(4, "ordered"), (4, "expected_on"), (4, "backordered")]
    assert "two ways" in report.rejected[1].message
    with shop.read() as r:
        found = {x.kind: (x.ordered, x.expected_on, x.backordered) for x in r.rows("supply")}
    assert found == {"shaft": (5, dt.date(2026, 3, 31), True), "head": (2, dt.date(2026, 3, 31), False)}


def test_a_day_where_text_was_typed_is_no_text(shop: Catalogue, tmp_path: Path) -> None:
    # a spreadsheet makes a day of a flex such as 5-5 on its own
    path = _xlsx(tmp_path / "a.xlsx", [["id", "flex"], ["trine", dt.date(2026, 5, 5)]])
    report = import_file(shop, "shaft", path)
    assert [(p.row, p.field) for p in report.rejected] == [(2, "flex")]
    assert "day" in report.rejected[0].message


def test_a_long_code_that_was_made_a_number_is_no_text(shop: Catalogue, tmp_path: Path) -> None:
    # a spreadsheet keeps 15 digits of a number (IEEE 754 double precision)
    rows: list[list[Any]] = [["id", "supplier_code"], ["trine", 12345678901234567890], ["trine", 400123456789]]
    report = import_file(shop, "shaft", _xlsx(tmp_path / "a.xlsx", rows[:2]))
    assert [(p.row, p.field) for p in report.rejected] == [(2, "supplier_code")]
    assert "rounded" in report.rejected[0].message
    import_file(shop, "shaft", _xlsx(tmp_path / "a.xlsx", [rows[0], rows[2]]))
    with shop.read() as r:
        assert r.get("shaft", "trine").supplier_code == "400123456789"


@pytest.mark.parametrize("careful", [False, True])
def test_a_name_that_begins_like_a_help_row_is_a_name(empty: Catalogue, tmp_path: Path, careful: bool) -> None:
    path = tmp_path / "a.csv"
    notes = 'a "quoted" word' if careful else ""
    path.write_text(f"maker,model,club_type,notes\n# help,,,\n#,,,\n#1 Works,Fen,wood,{notes}\n", encoding="utf-8")
    assert import_file(empty, "shaft", path).added == 1
    with empty.read() as r:
        assert r.get("shaft", "1-works-fen").maker == "#1 Works"


def test_cells_of_formulas_that_went_wrong_are_empty(shop: Catalogue, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("flex,id,weight_g,torque_deg\n#N/A,trine,#DIV/0!,#VALUE!\n", encoding="utf-8")
    assert import_file(shop, "shaft", path).changed == 1
    with shop.read() as r:
        trine = r.get("shaft", "trine")
    assert (trine.flex, trine.weight_g, trine.torque_deg) == (None, None, None)


@pytest.mark.parametrize(
    "word", ["n/a", "NaN", "-", "unknown", "tbd", "inf", "1e308", "1e14", "12..5", "0x1F", "1,234", "٣x"]
)
def test_words_in_place_of_a_number_are_told(shop: Catalogue, tmp_path: Path, word: str) -> None:
    path = tmp_path / "a.csv"
    path.write_text(f'id,weight_g\ntrine,"{word}"\n', encoding="utf-8")
    report = import_file(shop, "shaft", path)
    assert [(p.row, p.field) for p in report.rejected] == [(2, "weight_g")]
    assert str(report.rejected[0].value) in (word, str(float("1e14")))


def test_a_title_above_the_headings_is_told(shop: Catalogue, tmp_path: Path) -> None:
    path = _xlsx(
        tmp_path / "a.xlsx", [["Our shafts in spring", None, None], [], ["id", "maker", "flex"], ["a", "b", "S"]]
    )
    with pytest.raises(ImportFileError, match=r"row 1 is a title.*row 3"):
        import_file(shop, "shaft", path)
    path = _xlsx(tmp_path / "b.xlsx", [["Our shafts", "spring"], ["id", "maker"], ["a", "b"]])
    with pytest.raises(ImportFileError, match=r"row 1 has no headings.*row 2"):
        import_file(shop, "shaft", path)


@pytest.mark.parametrize("kind", load_schema().kinds)
@pytest.mark.parametrize("ending", ["csv", "tsv", "xlsx"])
def test_an_empty_template_adds_nothing(shop: Catalogue, tmp_path: Path, kind: str, ending: str) -> None:
    report = import_file(shop, kind, write_template(kind, tmp_path / f"a.{ending}"))
    assert (report.added, report.changed, report.unchanged, report.rejected) == (0, 0, 0, [])


def test_a_template_that_was_filled_in(shop: Catalogue, tmp_path: Path) -> None:
    path = write_template("shaft", tmp_path / "a.xlsx")
    book = openpyxl.load_workbook(path)
    page: Any = book.active
    names = [c.value for c in page[1]]
    for name, value in {"maker": "Eastmere", "model": "Vane", "club_type": "wood", "raw_length_in": "46 1/4"}.items():
        page.cell(3, names.index(name) + 1).value = value
    book.save(path)
    assert import_file(shop, "shaft", path).added == 1
    with shop.read() as r:
        assert r.get("shaft", "eastmere-vane").raw_length_in == 46.25


def test_currencies_in_small_letters_are_currencies(shop: Catalogue, tmp_path: Path) -> None:
    path = tmp_path / "grips.csv"
    path.write_text("id,price,currency\nmoss,7,eur\nfern,8,Usd\n", encoding="utf-8")
    assert import_file(shop, "grip", path).rejected == []
    with shop.read() as r:
        assert [r.get("grip", key).currency for key in ("moss", "fern")] == ["EUR", "USD"]


def test_headings_of_other_lists_are_led_to_the_field(shop: Catalogue, tmp_path: Path) -> None:
    """What leaflets call the columns (common practice, no source)."""
    path = tmp_path / "list.csv"
    path.write_text("Brand,model,Type,Bend point,Length,Tip diameter,Cost\na,b,wood,mid,46,.335,9\n", encoding="utf-8")
    with pytest.raises(ImportFileError) as caught:
        import_file(shop, "shaft", path)
    for said in ("'Brand' (did you mean maker?)", "club_type", "kick_label", "raw_length_in", "tip_dia_in", "price"):
        assert said in str(caught.value).partition("The fields are")[0]
