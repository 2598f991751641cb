"""What is remembered between runs, with two terminals and after a crash."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from specdb.tui.memory import Memory


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A state folder that is not there yet."""
    return tmp_path / "state" / "specdb"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A catalogue; it need not be there."""
    return tmp_path / "shop.duckdb"


def test_values_come_back_in_the_next_run(folder: Path, shop: Path) -> None:
    memory = Memory(folder, shop)
    memory.put("list/shaft/columns", ["model", "weight_g"])
    memory.close()
    assert Memory(folder, shop).get("list/shaft/columns", []) == ["model", "weight_g"]


def test_each_catalogue_has_its_own(folder: Path, shop: Path, tmp_path: Path) -> None:
    memory = Memory(folder, shop)
    memory.put("theme", "x")
    memory.close()
    assert Memory(folder, tmp_path / "other.duckdb").get("theme", "none") == "none"


def test_it_is_written_within_half_a_second_without_being_asked(folder: Path, shop: Path) -> None:
    memory = Memory(folder, shop)
    memory.keep_draft("shaft/new", {"maker": "Ambrel"})
    time.sleep(0.5)
    assert json.loads(memory.path.read_text(encoding="utf-8"))["drafts"]["shaft/new"]["values"] == {"maker": "Ambrel"}
    memory.close()


def test_two_terminals_forget_nothing_of_each_other(folder: Path, shop: Path) -> None:
    one, other = Memory(folder, shop), Memory(folder, shop)
    one.put("a", 1)
    other.put("b", 2)
    one.flush()
    other.flush()
    one.put("c", 3)
    one.flush()
    again = Memory(folder, shop)
    assert [again.get(k, None) for k in "abc"] == [1, 2, 3]


def test_a_draft_belongs_to_the_terminal_that_types_it_while_it_lives(folder: Path, shop: Path) -> None:
    one, other = Memory(folder, shop), Memory(folder, shop)
    one.keep_draft("shaft/new", {"maker": "Ambrel"})
    one.flush()
    assert one.draft("shaft/new") == {"maker": "Ambrel"}
    assert other.draft("shaft/new") is None
    assert other.drafts() == ()
    one.close()
    assert other.draft("shaft/new") == {"maker": "Ambrel"}
    assert other.drafts() == ("shaft/new",)


def test_a_draft_that_is_dropped_is_gone(folder: Path, shop: Path) -> None:
    memory = Memory(folder, shop)
    memory.keep_draft("shaft/new", {"maker": "Ambrel"})
    memory.flush()
    memory.drop_draft("shaft/new")
    assert memory.draft("shaft/new") is None
    memory.close()
    assert Memory(folder, shop).draft("shaft/new") is None


@pytest.mark.crash
def test_a_draft_comes_back_after_the_terminal_was_killed(folder: Path, shop: Path) -> None:
    code = (
        "import os, signal, sys, time\nfrom pathlib import Path\nfrom specdb.tui.memory import Memory\n"
        f"m = Memory(Path({str(folder)!r}), Path({str(shop)!r}))\n"
        "m.keep_draft('shaft/new', {'model': 'half ty'})\ntime.sleep(0.6)\n"
        "print('typed', flush=True)\ntime.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as typing:
        assert typing.stdout is not None
        assert typing.stdout.readline() == "typed\n"
        here = Memory(folder, shop)
        assert here.draft("shaft/new") is None  # it lives
        typing.kill()
        typing.wait(10)
    assert here.draft("shaft/new") == {"model": "half ty"}


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"drafts": 3}', '{"drafts": {"a": 1, "b": {"values": 2}}}', "\x00\xff"]
)
def test_a_file_that_somebody_spoilt_is_nothing_remembered(folder: Path, shop: Path, text: str) -> None:
    memory = Memory(folder, shop)
    folder.mkdir(parents=True)
    memory.path.write_text(text, encoding="utf-8")
    again = Memory(folder, shop)
    assert again.get("a", "none") == "none"
    assert again.draft("a") is None
    assert again.draft("b") is None
    again.put("a", 1)
    again.keep_draft("b", {"x": "y"})
    again.close()
    assert Memory(folder, shop).get("a", None) == 1
    assert Memory(folder, shop).draft("b") == {"x": "y"}


def test_a_folder_that_cannot_be_written_is_no_trouble_but_is_told(shop: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way", encoding="utf-8")
    memory = Memory(blocked / "state", shop)
    memory.put("a", 1)
    memory.flush()
    assert memory.get("a", None) == 1
    assert str(blocked) in memory.trouble
    memory.close()


def test_what_is_typed_is_for_its_owner_only(folder: Path, shop: Path) -> None:
    memory = Memory(folder, shop)
    memory.keep_draft("club/new", {"player": "Robin Thorne"})
    memory.close()
    if os.name == "posix":
        assert memory.path.stat().st_mode & 0o077 == 0
