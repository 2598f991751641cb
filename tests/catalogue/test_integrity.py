"""The check finds what is broken, and nothing in a sound catalogue."""

from typing import Any

import duckdb
import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.integrity import check_catalogue
from specdb.errors import CatalogueError
from tests.catalogue.samples import CLUB, READING, SHAFT, move


@pytest.fixture
def full(shop: Catalogue) -> Catalogue:
    with shop.write() as w:
        w.put("shaft_reading", {**READING, "id": "r"})
        w.put("club", CLUB)
        w.put("stock_move", move(3, id="m", location="rack"))
        w.put("shaft", {"id": "brief", "club_type": "iron"})
    with shop.write() as w:
        w.remove("shaft", "brief")
    with shop.write() as w:
        w.undo(3)
    with shop.write() as w:
        w.undo(4)
    return shop


def broken(catalogue: Catalogue, *statements: str) -> Any:
    """What the check says after somebody went round the package."""
    with duckdb.connect(str(catalogue.path)) as con:
        for statement in statements:
            con.execute(statement)
    return [(f.severity, f.kind, f.key, f.message) for f in check_catalogue(catalogue.path)]


def test_a_sound_catalogue(full: Catalogue) -> None:
    assert check_catalogue(full.path) == []


OVERTAKEN = ["UPDATE shaft SET raw_length_in = 40", "UPDATE shaft_reading SET position_in = 41"]
ELSEWHERE = (
    "INSERT INTO stock_move (id, kind, item_id, quantity, reason, location) "
    "VALUES ('n', 'shaft', 'trine', -1, 'used', 'van')"
)
TWIN = (
    "INSERT INTO shaft (id, club_type, maker, model, flex, weight_g) "
    "VALUES ('twin', 'wood', ' NORTHFOLD', 'Trine', 's', 62.5)"
)
AGAIN = "INSERT INTO shaft_reading SELECT * REPLACE ('again' AS id) FROM shaft_reading"


@pytest.mark.parametrize(
    ("statements", "kind", "key", "message"),
    [
        (["DELETE FROM shaft"], "club", "ada-driver", "there is no such shaft"),
        (["DELETE FROM shaft"], "shaft_reading", "r", "there is no such shaft"),
        (["DELETE FROM shaft"], "stock_move", "m", "there is no such shaft"),
        (["DELETE FROM shaft"], "shaft", "trine", "not in the table"),
        (["UPDATE shaft SET weight_g = 63"], "shaft", "trine", "not as the journal says"),
        (["UPDATE shaft SET butt_dia_in = 0.3"], "shaft", "trine", "tip_dia_in is 0.335"),
        (["UPDATE shaft SET price = 3"], "shaft", "trine", "currency is empty"),
        (["UPDATE shaft_reading SET value = 1"], "shaft_reading", "r", "3 to 400 n_m2 for ei"),
        (OVERTAKEN, "shaft_reading", "r", "40 in long"),
        (["INSERT INTO shaft (id, club_type) VALUES ('x', 'iron')"], "shaft", "x", "in no change of the journal"),
        (["INSERT INTO shaft (id, club_type) VALUES ('brief', 'iron')"], "shaft", "brief", "it was removed"),
        (["INSERT INTO change SELECT * FROM change WHERE change_no = 2 AND row_no = 1"], "change", "2", "twice"),
        (["DELETE FROM change WHERE change_no = 3"], "change", "4", "follows change 2"),
        (["UPDATE change SET undoes = 9 WHERE change_no = 4"], "change", "4", "comes later"),
        (["UPDATE change SET kind = 'spoon' WHERE change_no = 3"], "change", "spoon", "no kind"),
        (["UPDATE stock_move SET quantity = -3, reason = 'used'"], "shaft", "trine", "-3 on hand"),
        ([ELSEWHERE], "shaft", "trine", "-1 at 'van'"),
        ([TWIN], "shaft", "trine", "the same maker, model"),
        ([AGAIN], "shaft_reading", "again", "as 'r'"),
        (["ALTER TABLE shaft ADD COLUMN spoon VARCHAR"], "shaft", "", "spoon is not part"),
        (["ALTER TABLE club DROP COLUMN notes"], "club", "", "notes is missing"),
        (["DROP TABLE choice"], "choice", "", "id is missing"),
    ],
)  # fmt: skip
def test_what_it_finds(full: Catalogue, statements: list[str], kind: str, key: str, message: str) -> None:
    found = broken(full, *statements)
    assert any(k == kind and i == key and message in m for _, k, i, m in found), found


def test_errors_come_first(full: Catalogue) -> None:
    found = broken(full, "UPDATE stock_move SET quantity = -3, reason = 'used'")
    assert [f[0] for f in found] == ["error", "warning"]


def test_a_counted_shortage_is_a_warning(full: Catalogue) -> None:
    with full.write() as w:
        w.put("stock_move", move(-5, "counted"))
    (finding,) = check_catalogue(full.path)
    assert (finding.severity, finding.key) == ("warning", "trine")
    assert str(finding).startswith("warning: shaft trine: -2 on hand")


def test_equal_moves_are_no_look_alikes(full: Catalogue) -> None:
    with full.write() as w:
        for _ in range(2):
            w.put("stock_move", move(1), mode="add")
    assert check_catalogue(full.path) == []


def test_a_flipped_byte_is_noticed(full: Catalogue) -> None:
    """DuckDB keeps a sum of every block; reading everything through meets the damaged one."""
    with full.write() as w:
        for number in range(40):
            w.put("shaft", {**SHAFT, "id": f"s{number}", "notes": f"note {number} " * 300})
    data = bytearray(full.path.read_bytes())
    at = data.rindex(b"note 17 note 17")
    data[at] ^= 0xFF
    full.path.write_bytes(bytes(data))
    with pytest.raises(CatalogueError, match="damaged"):
        check_catalogue(full.path)
