"""Choosing a named weighting, and keeping one."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING

from specdb.tui.dialogs.chooser import Chooser
from specdb.tui.dialogs.words import Wanted, WordsDialog
from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.words import remember_who, who
from specdb.verbs.matching.weightings import DEFAULT, set_weighting

if TYPE_CHECKING:
    from specdb.tui.base import PlaceScreen
    from specdb.tui.standins.weights import Weights

_KEY = re.compile(r"[a-z0-9][a-z0-9._-]{0,79}")


def ask_weighting(screen: PlaceScreen, now: str | None, take: Callable[[str | None], None]) -> None:
    """Choose a named weighting, or the default.

    Parameters
    ----------
    screen : PlaceScreen
        Where it was asked for.
    now : str or None
        The one in force; None is the default.
    take : callable
        Takes the choice; None is the default.
    """
    catalogue = screen.desk.catalogue

    def look() -> list[tuple[str, str, str]]:
        with catalogue.read() as reader:
            kept = reader.rows("weighting")
        return [
            (DEFAULT, DEFAULT, "the usual tolerances, all weights one"),
            *((w.id, w.id, w.notes or "") for w in kept),
        ]

    def ask(rows: list[tuple[str, str, str]]) -> None:
        columns = [ColumnSpec("name", "weighting"), ColumnSpec("notes", "notes")]
        screen.app.push_screen(Chooser("Weighting", columns, rows, chosen=now or DEFAULT), chosen)

    def chosen(key: str | None) -> None:
        if key is not None:
            take(None if key == DEFAULT else key)

    screen.work(look, ask, group="weightings", what="list the weightings")


def ask_to_keep(screen: PlaceScreen, weights: Weights, take: Callable[[str | None], None]) -> None:
    """Keep weights and tolerances under a name, after asking for it.

    Parameters
    ----------
    screen : PlaceScreen
        Where it was asked for.
    weights : Weights
        What is in force.
    take : callable
        Takes the name once it is kept.
    """
    name = "" if weights.name == DEFAULT else weights.name
    dialog = WordsDialog(
        "Keep the weights and tolerances",
        [
            Wanted("name", "name", name, "e.g. feel-first"),
            Wanted("by", "who", who(screen.memory)),
        ],
        said="A weighting that is there under this name is changed; undo takes it back.",
        check=_wrong,
    )
    screen.app.push_screen(dialog, partial(_keep, screen, weights.words(), take))


def _wrong(typed: Mapping[str, str]) -> str:
    name = typed["name"]
    if name == DEFAULT:
        return "The default weighting is not changed; give another name."
    if not _KEY.fullmatch(name):
        return "A name is of small letters, digits, '.', '-' and '_'."
    return ""


def _keep(
    screen: PlaceScreen, words: list[str], take: Callable[[str | None], None], typed: Mapping[str, str] | None
) -> None:
    if typed is None:
        return
    name, by = typed["name"], typed["by"]
    remember_who(screen.memory, by)
    catalogue = screen.desk.catalogue

    def tell(action: str) -> None:
        screen.notify(f"Weighting {name} {action}.", markup=False)
        take(name)

    screen.work(
        lambda: set_weighting(catalogue, name, words, by=by or None).action,
        tell, group="keep weights", what="keep the weighting", changes=True,
    )  # fmt: skip
