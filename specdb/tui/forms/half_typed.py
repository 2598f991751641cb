"""Forms that are half typed: after a crash they come back by themselves, else they are one key away."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from specdb.schema import load_schema
from specdb.tui.forms import drafts
from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.words import listed, moment

if TYPE_CHECKING:
    from specdb.tui.base import Working


def bring_back(screen: Working[Any]) -> bool:
    """Open the form that stood on the screen when a terminal died; False where there is none.

    Parameters
    ----------
    screen : Working
        The screen it is opened over.
    """
    left = [d for d in drafts.half_typed(screen.memory) if d.stands]
    if not left:
        others = len(drafts.half_typed(screen.memory))
        if others:
            forms = "1 form is" if others == 1 else f"{others} forms are"
            screen.notify(f"{forms} half typed; d goes on with it." if others == 1 else f"{forms} half typed; d shows.")
        return False
    _open(screen, left[0])
    return True


def go_on(screen: Working[Any]) -> None:
    """Choose a form that is half typed, and go on with it.

    Parameters
    ----------
    screen : Working
        Where it was asked for.
    """
    found = drafts.half_typed(screen.memory)
    if not found:
        screen.notify("No form is half typed.")
    elif len(found) == 1:
        _open(screen, found[0])
    else:
        from specdb.tui.dialogs.chooser import Chooser

        rows = [(d.name, _what(d), _when(d), _typed(d)) for d in found]
        columns = [ColumnSpec("what", "Row"), ColumnSpec("when", "Typed"), ColumnSpec("fields", "Fields")]
        by_name = {d.name: d for d in found}

        def chosen(name: str | None) -> None:
            if name is not None:
                _open(screen, by_name[name])

        screen.app.push_screen(Chooser("Half typed", columns, rows), chosen)


def _open(screen: Working[Any], draft: drafts.Draft) -> None:
    from specdb.tui.forms.screen import form_screen

    screen.app.push_screen(form_screen(draft.kind, draft.key, draft=draft))


def _what(draft: drafts.Draft) -> str:
    title = load_schema().table(draft.kind).title.lower()
    return f"new {title}" if draft.key is None else f"{title} {draft.key}"


def _when(draft: drafts.Draft) -> str:
    try:
        return moment(dt.datetime.fromisoformat(draft.when))
    except ValueError:
        return ""


def _typed(draft: drafts.Draft) -> str:
    table = load_schema().table(draft.kind)
    return listed([table.field(n).title for n in draft.texts], 3)
