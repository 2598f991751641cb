"""Importing: what is taken, what is rejected and how that is told, and that nothing is written otherwise."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq
import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.importing import ImportReport, import_file
from specdb.errors import CatalogueError, ImportFileError, UnknownKindError, UsageError
from specdb.schema import load_schema
from tests.support.random_catalogue import random_shafts

SHAFTS = """id,maker,model,club_type,raw_length_in,weight_g,tip_dia_in
vane,Eastmere,Vane,wood,46,62.5,0.335
keel,Eastmere,Keel,iron,41,105,0.370
"""


def put(folder: Path, text: str, name: str = "a.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def counts(report: ImportReport) -> tuple[int, int, int]:
    return report.added, report.changed, report.unchanged


def everything(catalogue: Catalogue) -> dict[str, list[dict[str, Any]]]:
    with catalogue.read() as r:
        return {k: r.arrow(k).to_pylist() for k in load_schema().tables}


def said(report: ImportReport) -> list[tuple[int, str]]:
    return [(p.row, p.field) for p in report.rejected]


def test_new_rows_then_nothing_then_changes(shop: Catalogue, tmp_path: Path) -> None:
    path = put(tmp_path, SHAFTS)
    assert counts(import_file(shop, "shaft", path, by="Robin", why="new list")) == (2, 0, 0)
    with shop.read() as r:
        assert r.get("shaft", "vane").tip_dia_in == 0.335
        entry = r.history("shaft", "vane")[0]
        assert (entry.by, entry.why, entry.done) == ("Robin", "new list", "import")
        before = r.last_change()
    assert counts(import_file(shop, "shaft", path)) == (0, 0, 2)
    with shop.read() as r:
        assert r.last_change() == before
    report = import_file(shop, "shaft", put(tmp_path, SHAFTS.replace("62.5", "64")))
    assert counts(report) == (0, 1, 1)
    assert [(c.key, c.field, c.before, c.after) for c in report.changes] == [("vane", "weight_g", 62.5, 64.0)]


def test_a_dry_run_tells_the_same_and_writes_nothing(shop: Catalogue, tmp_path: Path) -> None:
    import_file(shop, "shaft", put(tmp_path, SHAFTS))
    before = everything(shop)
    path = put(tmp_path, SHAFTS.replace("62.5", "64") + "brim,Eastmere,Brim,wood,45,50,0.335\n")
    trial = import_file(shop, "shaft", path, dry_run=True)
    assert everything(shop) == before
    assert trial == import_file(shop, "shaft", path)
    assert counts(trial) == (1, 1, 1)


def test_an_empty_cell_clears_and_a_missing_column_keeps(shop: Catalogue, tmp_path: Path) -> None:
    report = import_file(shop, "shaft", put(tmp_path, "id,flex,weight_g\ntrine,,#N/A\n"))
    assert {(c.field, c.after) for c in report.changes} == {("flex", None), ("weight_g", None)}
    with shop.read() as r:
        assert r.get("shaft", "trine").raw_length_in == 46.0


def test_every_bad_row_is_named_and_none_is_taken(shop: Catalogue, tmp_path: Path) -> None:
    before = everything(shop)
    path = put(
        tmp_path,
        "id,club_type,raw_length_in,weight_g\n"
        "good,wood,46,60\n"  # 2
        "Bad Key,wood,46,60\n"  # 3
        "far,wood,460,60\n"  # 4
        "words,wood,about 46,heavy\n"  # 5
        "none,,46,60\n"  # 6
        "kind,spoon,46,60\n"  # 7
        "twice,wood,46,60\n"  # 8
        "short,wood\n"  # 9
        "twice,wood,45,60\n"  # 10
        "both,spoon,x,60\n",  # 11
    )
    report = import_file(shop, "shaft", path)
    assert everything(shop) == before
    assert counts(report) == (0, 0, 0)
    assert said(report) == [
        (3, "id"), (4, "raw_length_in"), (5, "raw_length_in"), (5, "weight_g"), (6, "club_type"), (7, "club_type"),
        (8, "id"), (9, ""), (10, "id"), (11, "raw_length_in"), (11, "club_type"),
    ]  # fmt: skip
    found = {(p.row, p.field): p for p in report.rejected}
    far = found[4, "raw_length_in"]
    assert (far.value, far.allowed, far.file) == (460.0, "10 to 60 in", str(path))
    assert found[5, "weight_g"].value == "heavy"
    assert "row 10" in found[8, "id"].message
    assert "row 8" in found[10, "id"].message
    assert "wood, hybrid" in found[7, "club_type"].allowed


def test_good_rows_are_taken_and_the_others_come_back_corrected(shop: Catalogue, tmp_path: Path) -> None:
    path = put(
        tmp_path,
        "id,club_type,raw_length_in,notes\ngood,wood,46,fine\nfar,wood,460,=1+1\nshort,wood\nbad,wood,x,'-a\n",
        "list.csv",
    )
    report = import_file(shop, "shaft", path, accept_good=True)
    assert counts(report) == (1, 0, 0)
    assert report.rejected_file == tmp_path / "list-rejected.csv"
    text = report.rejected_file.read_text("utf-8-sig")
    with report.rejected_file.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0] == ["reason", "id", "club_type", "raw_length_in", "notes"]
    assert [r[1] for r in rows[1:]] == ["far", "short", "bad"]
    assert "10 to 60 in" in rows[1][0]
    assert rows[1][4] == "'=1+1"
    # corrected, and imported with its column of reasons
    mended = text.replace("460", "46").replace("short,wood", "short,wood,45,").replace(",x,", ",44,")
    report.rejected_file.write_text(mended, encoding="utf-8")
    again = import_file(shop, "shaft", report.rejected_file, accept_good=True)
    assert counts(again) == (3, 0, 0)
    assert again.rejected_file is None
    with shop.read() as r:
        assert [r.get("shaft", k).notes for k in ("far", "bad")] == ["=1+1", "-a"]


def test_an_earlier_file_of_rejected_rows_is_kept(shop: Catalogue, tmp_path: Path) -> None:
    path = put(tmp_path, "id,club_type\nBAD,wood\n")
    first = import_file(shop, "shaft", path, accept_good=True).rejected_file
    second = import_file(shop, "shaft", path, accept_good=True).rejected_file
    assert first is not None
    assert second == tmp_path / "a-rejected-2.csv"
    assert first.read_bytes() == second.read_bytes()
    third = import_file(shop, "shaft", first, accept_good=True).rejected_file
    assert third is not None
    assert third.read_bytes() == first.read_bytes()


def test_where_the_rejected_rows_cannot_be_written_none_is_taken(
    shop: Catalogue, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> Path:
        raise CatalogueError("no space")

    monkeypatch.setattr("specdb.catalogue.rejected.write_sheet", full)
    before = everything(shop)
    with pytest.raises(CatalogueError, match="no space"):
        import_file(shop, "shaft", put(tmp_path, "id,club_type\nBAD,wood\ngood,wood\n"), accept_good=True)
    assert everything(shop) == before


def test_keys_are_made_from_the_other_fields(empty: Catalogue, tmp_path: Path) -> None:
    path = put(tmp_path, "maker,model,flex,weight_g,club_type\nNorthfold,Trine,S,62,wood\n,,,,wood\n")
    report = import_file(empty, "shaft", path, accept_good=True)
    assert counts(report) == (1, 0, 0)
    assert said(report) == [(3, "id")]
    assert "maker, model, flex" in report.rejected[0].message
    with empty.read() as r:
        assert r.find("shaft", "northfold-trine-s-62") is not None


def test_rows_that_get_the_same_key_are_told_what_it_was_made_from(empty: Catalogue, tmp_path: Path) -> None:
    path = put(tmp_path, "maker,model,flex,club_type\nNorthfold,Trine,S,wood\nNorthfold,Trine,S,iron\n")
    report = import_file(empty, "shaft", path)
    assert said(report) == [(2, "id"), (3, "id")]
    assert "made from maker, model, flex" in report.rejected[0].message


READINGS = """shaft_id,sample,quantity,value,position_in,free_length_in,load_n
trine,published,ei,31.5,6,,
trine,piece 1,frequency,251,,41,
trine,piece 1,frequency,252,,41,
trine,piece 1,deflection,100 mm,,41,9.81
"""


def test_equal_readings_are_repeats_and_stay_so(shop: Catalogue, tmp_path: Path) -> None:
    path = put(tmp_path, READINGS)
    assert counts(import_file(shop, "shaft_reading", path)) == (4, 0, 0)
    assert counts(import_file(shop, "shaft_reading", path)) == (0, 0, 4)
    with shop.read() as r:
        assert sorted(x.value for x in r.readings_of("trine") if x.quantity == "frequency") == [251.0, 252.0]


def test_a_rejected_repeat_does_not_overwrite_the_first(shop: Catalogue, tmp_path: Path) -> None:
    path = put(tmp_path, READINGS.replace("252", "25200"))
    report = import_file(shop, "shaft_reading", path, accept_good=True)
    assert counts(report) == (3, 0, 0)
    assert report.rejected_file is not None
    assert said(report) == [(4, "value")]
    assert report.rejected[0].allowed == "40 to 2000 cpm for frequency"
    mended = report.rejected_file.read_text("utf-8-sig").replace(",25200,", ",252,")
    report.rejected_file.write_text(mended, encoding="utf-8")
    assert counts(import_file(shop, "shaft_reading", report.rejected_file)) == (1, 0, 0)
    assert counts(import_file(shop, "shaft_reading", put(tmp_path, READINGS))) == (0, 0, 4)


def test_the_unit_of_a_reading_goes_with_its_quantity(shop: Catalogue, tmp_path: Path) -> None:
    # exact by definition: 1 in = 25.4 mm; 1 N·m² = 1e6 N·mm² (NIST SP 811, appendix B)
    path = put(
        tmp_path,
        "shaft_id,sample,quantity,value,sd,position_in,free_length_in,load_n\n"
        "trine,p,deflection,4 in,0.1 in,,41,9.81\n"
        "trine,p,ei,31500000 N·mm²,,6,,\n"
        "trine,p,balance,254 mm,2.54mm,,,\n"
        "trine,p,weight,62.5,0.1,,,\n"
        "trine,p,frequency,4.2 Hz,,,41,\n",
    )
    assert counts(import_file(shop, "shaft_reading", path)) == (5, 0, 0)
    with shop.read() as r:
        found = {x.quantity: (x.value, x.sd) for x in r.readings_of("trine")}
    assert found["deflection"] == pytest.approx((101.6, 2.54))
    assert found["ei"][0] == pytest.approx(31.5)
    assert found["balance"] == pytest.approx((10.0, 0.1))
    assert found["weight"] == (62.5, 0.1)
    assert found["frequency"][0] == pytest.approx(252.0)
    wrong = put(tmp_path, "shaft_id,sample,quantity,value\ntrine,q,weight,4 in\ntrine,q,weighty,60\n")
    report = import_file(shop, "shaft_reading", wrong)
    assert said(report) == [(2, "value"), (3, "quantity")]
    assert "grams" in report.rejected[0].message


def test_a_unit_in_the_heading_of_values_counts_for_its_quantity_only(shop: Catalogue, tmp_path: Path) -> None:
    text = "shaft_id,sample,quantity,Value (mm)\ntrine,p,balance,254\ntrine,p,weight,62\n"
    report = import_file(shop, "shaft_reading", put(tmp_path, text), accept_good=True)
    assert said(report) == [(3, "value")]
    assert "mm" in report.rejected[0].message
    with shop.read() as r:
        assert [x.value for x in r.readings_of("trine")] == pytest.approx([10.0])


def test_references_that_point_at_nothing_are_named_row_by_row(shop: Catalogue, tmp_path: Path) -> None:
    before = everything(shop)
    path = put(
        tmp_path, READINGS.replace("trine,published", "gone,published").replace("trine,piece 1,defl", "lost,p,defl")
    )
    report = import_file(shop, "shaft_reading", path)
    assert [(p.row, p.field, p.value) for p in report.rejected] == [(2, "shaft_id", "gone"), (5, "shaft_id", "lost")]
    assert everything(shop) == before


def test_a_move_that_takes_more_than_there_is_stays_out(shop: Catalogue, tmp_path: Path) -> None:
    path = put(tmp_path, "kind,item_id,quantity,reason\nshaft,trine,2,received\nshaft,trine,-5,used\n")
    report = import_file(shop, "stock_move", path)
    assert len(report.rejected) == 1
    good = import_file(shop, "stock_move", path, accept_good=True)
    assert counts(good) == (1, 0, 0)
    assert good.rejected_file is not None
    # the kind has a field named reason, so the reasons of rejection stand under another heading
    assert good.rejected_file.read_text("utf-8-sig").startswith("rejected_because,kind,item_id,quantity,reason")
    again = import_file(shop, "stock_move", good.rejected_file)
    assert said(again) == [(2, "quantity")]


@pytest.mark.parametrize(
    ("headings", "field"),
    [
        ("raw_length_in", "raw_length_in"), ("Raw Length In", "raw_length_in"), ("RAW-LENGTH-IN", "raw_length_in"),
        ("Raw length (in)", "raw_length_in"), ("Raw length", "raw_length_in"), ("raw length [inches]", "raw_length_in"),
        (" raw_length_in ", "raw_length_in"), ("Tip EI (N·m²)", "tip_ei_n_m2"), ("Torque (°)", "torque_deg"),
    ],
)  # fmt: skip
def test_headings_as_people_write_them(shop: Catalogue, tmp_path: Path, headings: str, field: str) -> None:
    import_file(shop, "shaft", put(tmp_path, f"id,{headings}\ntrine,12\n"))
    with shop.read() as r:
        assert getattr(r.get("shaft", "trine"), field) == 12.0


@pytest.mark.parametrize("heading", ["raw_length_mm", "Raw length (mm)", "RAW LENGTH MM", "Raw length [mm]"])
def test_another_unit_in_the_heading_is_converted(shop: Catalogue, tmp_path: Path, heading: str) -> None:
    # 1168.4 mm are 46 in, as an inch is 25.4 mm; a cell with its own unit keeps it
    text = f"id,club_type,{heading},weight (oz)\na,wood,1168.4,2\nb,wood,46 in,\nc,wood,,56.7 g\n"
    assert counts(import_file(shop, "shaft", put(tmp_path, text))) == (3, 0, 0)
    with shop.read() as r:
        a, b, c = (r.get("shaft", k) for k in "abc")
    assert (a.raw_length_in, b.raw_length_in, c.raw_length_in) == (pytest.approx(46.0), 46.0, None)
    assert (a.weight_g, c.weight_g) == (pytest.approx(56.69904625), pytest.approx(56.7))


def test_a_converted_value_out_of_range_is_told_as_it_was_written(shop: Catalogue, tmp_path: Path) -> None:
    report = import_file(shop, "shaft", put(tmp_path, "id,Raw length (mm),weight_g,tip_dia_in\ntrine,46 1/2,9 oz,9\n"))
    told = [p.message for p in report.rejected]
    assert told[0].startswith("raw_length_in is 1.8307")
    assert told[0].endswith("(the cell says 46 1/2 under a heading in mm)")
    assert told[1].endswith("(the cell says 9 oz)")
    assert told[2] == "tip_dia_in is 9.0; it must be 0.2 to 0.7 in"


@pytest.mark.parametrize(
    ("headings", "words"),
    [
        ("id,wieght_g", "weight_g"), ("id,colour", "no field for the heading 'colour'"),
        ("id,Raw length (kg)", "Raw length"), ("id,weight_g,Weight (oz)", "both mean weight_g"),
        ("Our list,of shafts\nid,maker", "row 1 has no headings.*row 2"), ("colour,size", "no field for the headings"),
    ],
)  # fmt: skip
def test_headings_that_are_not_known_are_refused(shop: Catalogue, tmp_path: Path, headings: str, words: str) -> None:
    before = everything(shop)
    width = headings.splitlines()[-1].count(",")
    with pytest.raises(ImportFileError, match=words):
        import_file(shop, "shaft", put(tmp_path, f"{headings}\ntrine{',1' * width}\n"))
    assert everything(shop) == before


def test_kinds_that_are_not_imported(shop: Catalogue, tmp_path: Path) -> None:
    with pytest.raises(UnknownKindError):
        import_file(shop, "bicycle", put(tmp_path, SHAFTS))
    with pytest.raises(UsageError, match="not imported"):
        import_file(shop, "change", put(tmp_path, SHAFTS))


def test_a_file_of_headings_alone_adds_nothing(shop: Catalogue, tmp_path: Path) -> None:
    assert counts(import_file(shop, "shaft", put(tmp_path, "id,maker\n"))) == (0, 0, 0)


def test_a_row_named_by_two_fields(shop: Catalogue, tmp_path: Path) -> None:
    with shop.write() as w:
        w.put("adapter", {"id": "cone", "connection": "cone-1"}, mode="add")
    path = put(tmp_path, "adapter_id,setting,loft_change_deg\ncone,std,0\ncone,up,1\ncone,,2\ncone,up,1.5\n")
    report = import_file(shop, "adapter_setting", path, accept_good=True)
    assert counts(report) == (1, 0, 0)
    assert said(report) == [(3, "setting"), (4, "setting"), (5, "setting")]


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_a_whole_table_comes_in_as_it_is(empty: Catalogue, tmp_path: Path, ending: str) -> None:
    shafts, readings = random_shafts(300)
    for name, table in (("shaft", shafts), ("shaft_reading", readings)):
        path = tmp_path / f"{name}.{ending}"
        (pacsv.write_csv if ending == "csv" else pq.write_table)(table, path)
        assert counts(import_file(empty, name, path)) == (table.num_rows, 0, 0)
        assert counts(import_file(empty, name, path)) == (0, 0, table.num_rows)
    with empty.read() as r:
        assert r.arrow("shaft", order_by=("id",)).equals(shafts.sort_by("id"))
        stored = r.arrow("shaft_reading", order_by=("shaft_id", "position_in")).drop_columns(["id"])
    assert stored.equals(
        readings.drop_columns(["id"]).sort_by([("shaft_id", "ascending"), ("position_in", "ascending")])
    )


def test_no_rows_of_parquet_that_are_no_numbers(shop: Catalogue, tmp_path: Path) -> None:
    table = pa.table({"id": ["a", "b", "c"], "club_type": ["wood"] * 3, "weight_g": [60.0, float("nan"), float("inf")]})
    pq.write_table(table, tmp_path / "a.parquet")
    assert said(import_file(shop, "shaft", tmp_path / "a.parquet")) == [(2, "weight_g"), (3, "weight_g")]


def test_progress_is_told(shop: Catalogue, tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []
    import_file(shop, "shaft", put(tmp_path, SHAFTS), progress=lambda *a: told.append(a))
    assert told[0][0] == "reading the file"
    assert told[-1] == ("done", 2, 2)


ALIKE = """id,maker,model,flex,club_type,club_number,weight_g
{key},{maker},Trine,S,{type},{number},{weight}
"""


@pytest.mark.parametrize(
    ("key", "maker", "club_type", "number", "weight", "told"),
    [
        ("trine-63", "Northfold", "wood", "", 63, True),
        ("trine-63", "north fold", "wood", "", 63, True),
        ("trine-63", "Northfold", "wood", "", "", True),
        ("trine-63", "Northfold", "hybrid", "", 63, False),
        ("trine-5", "Northfold", "wood", 5, 63, False),
        ("trine", "Northfold", "wood", "", 63, False),
        ("trine-63", "Eastmere", "wood", "", 63, False),
    ],
)
def test_a_new_row_with_the_names_of_one_that_is_there_is_told_and_not_refused(
    shop: Catalogue, tmp_path: Path, key: str, maker: str, club_type: str, number: object, weight: object, told: bool
) -> None:
    """Common practice, no source: one list writes a weight of 62.5 g, the next one 63 g, of the same shaft."""
    text = ALIKE.format(key=key, maker=maker, type=club_type, number=number, weight=weight)
    before = everything(shop)
    report = import_file(shop, "shaft", put(tmp_path, text), dry_run=True)
    assert not report.rejected
    assert [(r.row, r.key, r.like) for r in report.remarks] == ([(2, key, "trine")] if told else [])
    assert everything(shop) == before
    if told and weight:
        assert "the same maker, model, flex and club number (62.5 g there, 63 g here)" in report.remarks[0].message
    assert import_file(shop, "shaft", put(tmp_path, text)).added == (key != "trine")


def test_rows_of_one_file_are_no_doubles_of_each_other(shop: Catalogue, tmp_path: Path) -> None:
    head = "id,maker,model,flex,club_type,weight_g\n"
    one, other = "vane-60,Eastmere,Vane,S,wood,60\n", "vane-70,Eastmere,Vane,S,wood,70\n"
    import_file(shop, "shaft", put(tmp_path, head + one))
    assert len(import_file(shop, "shaft", put(tmp_path, head + other), dry_run=True).remarks) == 1
    assert import_file(shop, "shaft", put(tmp_path, head + one + other), dry_run=True).remarks == []


def test_a_remark_names_the_row_of_the_file_also_where_rows_before_it_are_refused(
    shop: Catalogue, tmp_path: Path
) -> None:
    head = "id,maker,model,hand,club_type,loft_deg\n"
    import_file(shop, "head", put(tmp_path, head + "bluff,Northfold,Bluff,left,wood,10.5\n"))
    file = put(tmp_path, f"{head}bad,Northfold,Bluff,both,wood,10.5\nbluff-2,Northfold,BLUFF,left,wood,10.5\n")
    report = import_file(shop, "head", file, dry_run=True, accept_good=True)
    assert [(r.row, r.key, r.like) for r in report.remarks] == [(3, "bluff-2", "bluff")]
    assert {p.row for p in report.rejected} == {2}
