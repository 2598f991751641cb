"""Forms that are half typed: what is kept of them on every change, and how they come back after a crash.

With what was typed goes the row as it was when the form was opened, so that a form that comes back hours later still
knows what someone else changed meanwhile. Each open form has a draft of its own name, so that two terminals with a
form of the same row do not write over each other's.
"""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from specdb.schema import load_schema

if TYPE_CHECKING:
    from specdb.tui.memory import Memory
    from specdb.verbs.catalogue.forms import Form

_BEGIN = "row form/"
_NEW = "new"
_OPENED, _STANDS, _WHEN, _BASE = "/opened", "/stands", "/when", "/base"  # no name of a field begins so


@dataclass(frozen=True, slots=True)
class Draft:
    """A form half typed.

    Attributes
    ----------
    name : str
        Its name in the memory.
    kind : str
        Kind of the row.
    key : str or None
        The row; None for a new one.
    texts : mapping of str to str
        What stood in the fields.
    opened : mapping or None
        The row as it was when the form was opened; None for a new one.
    base : mapping
        What stood in the fields of a new row at first, where it was copied from a similar one.
    stands : bool
        Whether the form was on the screen when the program ended.
    when : str
        When it was last typed in, as ISO 8601 in UTC.
    """

    name: str
    kind: str
    key: str | None
    texts: Mapping[str, str]
    opened: Mapping[str, Any] | None = None
    base: Mapping[str, str] = field(default_factory=dict)
    stands: bool = True
    when: str = ""


def fresh_name(kind: str, key: str | None) -> str:
    """A name for the draft of a form that is being opened.

    Parameters
    ----------
    kind : str
        Kind of the row.
    key : str or None
        The row; None for a new one.
    """
    return f"{_begin(kind, key)}{uuid.uuid4().hex[:12]}"


def _begin(kind: str, key: str | None) -> str:
    return f"{_BEGIN}{kind}/{_NEW if key is None else f'={key}'}/"


def keep(memory: Memory, draft: Draft) -> None:
    """Keep a draft; it is on the disk within half a second.

    Parameters
    ----------
    memory : Memory
        What is remembered.
    draft : Draft
        The draft.
    """
    values = dict(draft.texts)
    values[_STANDS] = "yes" if draft.stands else "no"
    values[_WHEN] = dt.datetime.now(dt.UTC).isoformat()
    if draft.opened is not None:
        values[_OPENED] = json.dumps(draft.opened, default=_iso)
    if draft.base:
        values[_BASE] = json.dumps(dict(draft.base))
    memory.keep_draft(draft.name, values)


def take_up(memory: Memory, form: Form, key: str | None) -> Draft | None:
    """The latest draft of a form, if there is one that is not being typed in another terminal.

    Parameters
    ----------
    memory : Memory
        What is remembered.
    form : Form
        The form.
    key : str or None
        The row; None for a new one.
    """
    begin = _begin(form.kind, key)
    found = _latest_first(_read(memory, form, key, name) for name in memory.drafts() if name.startswith(begin))
    return found[0] if found else None


def half_typed(memory: Memory) -> list[Draft]:
    """Every draft of a form of a row that is not being typed in another terminal, the latest first.

    Parameters
    ----------
    memory : Memory
        What is remembered.
    """
    from specdb.verbs.catalogue.forms import form_of

    found = []
    for name in memory.drafts():
        if not name.startswith(_BEGIN):
            continue
        kind, _, rest = name.removeprefix(_BEGIN).partition("/")
        row = rest.rpartition("/")[0]
        if kind in load_schema().kinds:  # else it is of a version with other kinds
            found.append(_read(memory, form_of(kind), None if row == _NEW else row.removeprefix("="), name))
    return _latest_first(found)


def _latest_first(drafts: Iterable[Draft | None]) -> list[Draft]:
    return sorted((d for d in drafts if d is not None), key=lambda d: d.when, reverse=True)


def _read(memory: Memory, form: Form, key: str | None, name: str) -> Draft | None:
    values = memory.draft(name)
    if values is None:
        return None
    known = {f.name for f in form.fields}
    try:
        opened = json.loads(values[_OPENED]) if _OPENED in values else None
        base = json.loads(values.get(_BASE, "{}"))
    except ValueError:
        return None
    if key is not None and not isinstance(opened, dict):
        return None
    return Draft(
        name,
        form.kind,
        key,
        {n: t for n, t in values.items() if n in known},
        None if opened is None else _stored(form, opened),
        base,
        values.get(_STANDS) == "yes",
        values.get(_WHEN, ""),
    )


def _iso(value: object) -> str:
    if isinstance(value, (dt.date, dt.datetime)):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} is no value of a row")


def _stored(form: Form, values: Mapping[str, Any]) -> dict[str, Any]:
    """Values from JSON, in their stored types."""
    types = {f.name: f.type for f in form.table.fields}
    return {
        name: dt.date.fromisoformat(value) if types.get(name) == "date" and isinstance(value, str) else value
        for name, value in values.items()
    }
