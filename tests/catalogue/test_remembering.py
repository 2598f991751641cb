"""A remembering reader answers as any other, and asks once."""

from __future__ import annotations

from pathlib import Path

from tests.cli.shop import fill


def test_it_answers_as_any_reader(tmp_path: Path) -> None:
    with fill(tmp_path / "shop.duckdb").read() as reader:
        one = reader.remembering()
        for _ in range(2):
            assert one.get("shaft", "reed-60-s") == reader.get("shaft", "reed-60-s")
            assert one.find("shaft", "no-such") is None
            assert one.readings_of("reed-60-s") == reader.readings_of("reed-60-s")
            assert one.rows("head", include_retired=False) == reader.rows("head", include_retired=False)
            assert one.arrow("shaft", ("id", "maker"), order_by=("id",)).equals(
                reader.arrow("shaft", ("id", "maker"), order_by=("id",))
            )
            assert one.stock("shaft") == reader.stock("shaft")
            assert one.supply("shaft") == reader.supply("shaft")
            assert (one.held(), one.count("shaft")) == (reader.held(), reader.count("shaft"))


def test_it_asks_once_and_hands_out_copies(tmp_path: Path) -> None:
    with fill(tmp_path / "shop.duckdb").read() as reader:
        one = reader.remembering()
        assert one.get("shaft", "reed-60-s") is one.get("shaft", "reed-60-s")
        rows = one.rows("shaft")
        count = len(rows)
        rows.clear()
        assert len(one.rows("shaft")) == count
        known = one.get("shaft", "rush-70-s")
        one.know("shaft", [known])
        assert one.get("shaft", "rush-70-s") is known
