"""Undoing from the command line: what would go back is said first, and asked where somebody sits at a terminal."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

import specdb as package
from specdb.verbs.catalogue.change_words import undo_question
from specdb.verbs.catalogue.changing import set_fields
from specdb.verbs.catalogue.journal import to_undo
from specdb.verbs.orders.changes import add_order
from specdb.verbs.orders.checks import Wanted
from tests.cli.conftest import Command, Ran


@pytest.fixture
def taken(shop: Path) -> Path:
    """A shop in which Robin has just taken an order."""
    catalogue = package.open(shop)
    add_order(catalogue, "o-77", [Wanted(club_id="fit-driver")], customer="M. Fenwick", by="Robin", why="on the phone")
    return shop


def _orders(path: Path) -> list[str]:
    with package.open(path).read() as reader:
        return [str(key) for key in reader.arrow("order", ["id"])["id"].to_pylist()]


def _at_a_terminal(answer: str, *words: str) -> Ran:
    """Run the command with a terminal as its standard input."""
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "specdb", *words],
        stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8", env=os.environ,
    ) as process:  # fmt: skip
        os.close(theirs)
        os.write(ours, f"{answer}\n".encode())
        out, err = process.communicate(timeout=60)
    os.close(ours)
    return Ran(process.returncode, out, err)


def test_without_a_terminal_it_says_what_goes_back_and_does_it(taken: Path, specdb: Command) -> None:
    ran = specdb("undo", "--catalogue", str(taken))
    assert ran.status == 0
    assert "undone" in ran.out
    assert "'take order'" in ran.err
    assert "by Robin" in ran.err
    assert "Why: on the phone" in ran.err
    assert "order o-77 is taken away" in ran.err
    assert "o-77" not in _orders(taken)


def test_a_refused_undo_does_not_read_as_if_it_were_done(taken: Path, specdb: Command) -> None:
    catalogue = package.open(taken)
    found = to_undo(catalogue)
    assert found is not None
    set_fields(catalogue, "order", "o-77", ["customer=N. Fenwick"])
    ran = specdb("undo", str(found.change.change_no), "--catalogue", str(taken))
    assert ran.status != 0
    assert "cannot be undone" in ran.err
    assert "is taken away" not in ran.err
    assert "o-77" in _orders(taken)


def test_at_a_terminal_it_asks_as_the_interface_does(taken: Path) -> None:
    found = to_undo(package.open(taken))
    assert found is not None
    refused = _at_a_terminal("n", "undo", "--catalogue", str(taken))
    assert refused.status == 1
    assert refused.out == ""
    assert undo_question(found) in refused.err
    assert "Nothing was undone." in refused.err
    assert "o-77" in _orders(taken)
    agreed = _at_a_terminal("y", "undo", "--catalogue", str(taken))
    assert agreed.status == 0
    assert "undone" in agreed.out
    assert "o-77" not in _orders(taken)


def test_an_empty_answer_undoes_nothing_and_yes_asks_nothing(taken: Path) -> None:
    assert _at_a_terminal("", "undo", "--catalogue", str(taken)).status == 1
    assert "o-77" in _orders(taken)
    agreed = _at_a_terminal("n", "undo", "--yes", "--catalogue", str(taken))
    assert agreed.status == 0
    assert "o-77" not in _orders(taken)


def test_what_a_field_goes_back_to_is_said(taken: Path, specdb: Command) -> None:
    here = ("--catalogue", str(taken))
    specdb("order", "state", "o-77", "at_bench", *here)
    said = specdb("undo", *here).err
    assert "order o-77 goes back" in said
    assert "State: at_bench → open" in said
