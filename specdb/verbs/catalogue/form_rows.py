"""A row opened in a form, and kept again: where each value comes from, and what someone else changed meanwhile."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from specdb.catalogue import Catalogue, Reader, Writer
from specdb.errors import FieldError, NotFoundError, UsageError, indefinite
from specdb.schema import Table
from specdb.units.writing import begun
from specdb.verbs.catalogue.details import ReadingSummary, summaries
from specdb.verbs.catalogue.forms import Form, form_of
from specdb.verbs.catalogue.holdings import ShelfLine, shelf_lines, stocked_kinds

# what the bench measures of a shaft beside what is published in a field of it
_MEASURED_AS = {"weight_g": "weight", "torque_deg": "torque", "balance_from_tip_in": "balance"}


@dataclass(frozen=True, slots=True)
class Origin:
    """The change that gave a field the value it has.

    Attributes
    ----------
    change_no : int
        Number of the change.
    at : datetime
        When, in UTC.
    by, why, done : str or None
        Who, why, and what was done: import, set, undo, …
    """

    change_no: int
    at: dt.datetime
    by: str | None
    why: str | None
    done: str | None


@dataclass(frozen=True, slots=True)
class OpenedRow:
    """A row as it was when the form was opened.

    Attributes
    ----------
    kind, key : str
        Which row.
    values : dict
        All its fields.
    origins : dict of str to Origin
        Where each known value comes from.
    measured : dict of str to ReadingSummary
        For fields of a shaft that the bench measures too: what it found.
    readings : int
        Readings of a shaft, published ones included; settings of an adapter.
    shelf : ShelfLine or None
        Stock and supply, where stock is kept of the kind.
    """

    kind: str
    key: str
    values: dict[str, Any]
    origins: dict[str, Origin]
    measured: dict[str, ReadingSummary]
    readings: int
    shelf: ShelfLine | None


@dataclass(frozen=True, slots=True)
class Difference:
    """A field that someone else changed while the form was open.

    Attributes
    ----------
    field : str
        The field.
    opened, now, typed : object
        Its value when the form was opened, as it stands now, and as typed here.
    origin : Origin or None
        The change that gave it the value that stands now.
    """

    field: str
    opened: Any
    now: Any
    typed: Any
    origin: Origin | None = None

    @property
    def is_contested(self) -> bool:
        """Whether both changed it; otherwise only the other did."""
        return bool(self.typed != self.opened)


@dataclass(frozen=True, slots=True)
class Kept:
    """What came of keeping a row.

    Attributes
    ----------
    kind, key : str
        Which row.
    action : str
        ``added``, ``changed``, ``unchanged``; ``differs`` where someone else changed it and nothing was written,
        ``gone`` where it is no longer there.
    change_no : int or None
        Number of the change; None where nothing was written.
    now : dict
        The row as it stands in the catalogue.
    differences : tuple of Difference
        What someone else changed, where it differs from what was typed.
    """

    kind: str
    key: str
    action: str
    change_no: int | None
    now: dict[str, Any]
    differences: tuple[Difference, ...] = ()


def open_row(catalogue: Catalogue, kind: str, key: str) -> OpenedRow:
    """Open a row for a form.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind, key : str
        The row.

    Raises
    ------
    NotFoundError
        If there is no such row.
    """
    table = form_of(kind).table
    with catalogue.read() as reader:
        values = asdict(reader.get(table.name, key))
        origins = _origins(reader, table, key, (n for n, v in values.items() if v is not None))
        readings = reader.readings_of(key) if table.name == "shaft" else []
        counted = len(reader.settings_of(key)) if table.name == "adapter" else len(readings)
        shelf = None
        if table.name in stocked_kinds():
            lines = shelf_lines(reader, table.name, key)
            shelf = lines[0] if lines else ShelfLine(table.name, key, 0, 0, None, False)
    found = {s.quantity: s for s in summaries(readings) if s.source == "measured"}
    measured = {field: found[quantity] for field, quantity in _MEASURED_AS.items() if quantity in found}
    return OpenedRow(table.name, key, values, origins, measured, counted, shelf)


def _origins(reader: Reader, table: Table, key: str, fields: Iterable[str]) -> dict[str, Origin]:
    """The latest change of each field."""
    origins: dict[str, Origin] = {}
    wanted = set(fields)
    for row in reader.history(table.name, key):
        for name in row.differences():
            if name in wanted:
                wanted.discard(name)
                origins[name] = Origin(row.change_no, row.at.replace(tzinfo=dt.UTC), row.by, row.why, row.done)
        if not wanted:
            break
    return origins


def common_origin(row: OpenedRow) -> Origin | None:
    """The change that most values of a row come from; None where no two come from the same.

    Parameters
    ----------
    row : OpenedRow
        The row.
    """
    counts = Counter(row.origins.values()).most_common(1)
    return counts[0][0] if counts and counts[0][1] > 1 else None


def differences(opened: Mapping[str, Any], now: Mapping[str, Any], typed: Mapping[str, Any]) -> tuple[Difference, ...]:
    """Fields that differ from what they were when the form was opened, and from what is typed in it.

    Parameters
    ----------
    opened, now : mapping
        The row when the form was opened, and as it stands.
    typed : mapping
        Values of the fields of the form.
    """
    return tuple(
        Difference(name, opened.get(name), now.get(name), typed.get(name, opened.get(name)))
        for name in now
        if now.get(name) != opened.get(name) and typed.get(name, opened.get(name)) != now.get(name)
    )


def keep_row(
    catalogue: Catalogue,
    kind: str,
    values: Mapping[str, Any],
    *,
    opened: OpenedRow | None,
    by: str | None = None,
    why: str | None = None,
) -> Kept:
    """Keep a row as it stands in a form; nothing that someone else changed meanwhile is written over.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind : str
        The kind.
    values : mapping
        Stored values of the fields of the form.
    opened : OpenedRow or None
        The row as it was when the form was opened; None for a new row.
    by, why : str or None
        Who and why, for the journal.

    Returns
    -------
    Kept
        Where its action is ``differs`` or ``gone``, nothing was written.

    Raises
    ------
    FieldError
        If a value is not allowed, or a reference points at nothing; it names the field.
    UsageError
        If the kind cannot be changed.
    """
    form = form_of(kind)
    if opened is None:
        return _add(catalogue, form, values, by=by, why=why)
    table = form.table
    if table.append_only:
        raise UsageError(f"{indefinite(table.title.lower())} cannot be changed; book another one")
    with catalogue.write(by=by, why=why, done=f"set {table.name} {opened.key}") as writer:
        record = writer.find(table.name, opened.key)
        if record is None:
            return Kept(table.name, opened.key, "gone", None, {})
        now = asdict(record)
        found = differences(opened.values, now, values)
        if found:
            origins = _origins(writer, table, opened.key, (d.field for d in found))
            found = tuple(replace(d, origin=origins.get(d.field)) for d in found)
            return Kept(table.name, opened.key, "differs", None, now, found)
        mine = {n: v for n, v in values.items() if v != opened.values.get(n) and n not in table.primary_key}
        keys = {n: opened.values[n] for n in table.primary_key}
        action = writer.put(table.name, {**mine, **keys}, mode="update")
        after = asdict(writer.get(table.name, opened.key))
        return Kept(table.name, opened.key, action, writer.change_no, after)


def _add(catalogue: Catalogue, form: Form, values: Mapping[str, Any], *, by: str | None, why: str | None) -> Kept:
    table = form.table
    given = {n: v for n, v in values.items() if v is not None}
    with catalogue.write(by=by, why=why, done=f"add {table.name}") as writer:
        _refuse_if_there(writer, table, given)
        action = writer.put(table.name, given, mode="add")
        key = str(writer.history(change_no=writer.change_no, limit=1)[0].key)
        return Kept(table.name, key, action, writer.change_no, asdict(writer.get(table.name, key)))


def _refuse_if_there(writer: Writer, table: Table, values: Mapping[str, Any]) -> None:
    """Say beside the key that there is such a row already."""
    from specdb.catalogue.validate import derive_key

    parts = [values.get(n) for n in table.primary_key]
    if None in parts:
        if table.key_style == "digest" or not table.derive_key_from:
            return
        key = derive_key(table.name, values)
    else:
        key = "/".join(str(p) for p in parts)
    if key is not None and writer.find(table.name, key) is not None:
        field = table.primary_key[-1]
        raise FieldError(
            f"there is {indefinite(table.name)} '{key}' already; give this one another key, or change that one",
            kind=table.name,
            field=field,
            value=key,
            allowed="a key that no other row has",
        )


def rebased(opened: OpenedRow, now: Mapping[str, Any]) -> OpenedRow:
    """The opened row with the values that stand in the catalogue now, once what differs has been looked at.

    Parameters
    ----------
    opened : OpenedRow
        As it was opened.
    now : mapping
        The row as it stands.
    """
    return OpenedRow(opened.kind, opened.key, dict(now), opened.origins, opened.measured, opened.readings, opened.shelf)


def missing_references(catalogue: Catalogue, form: Form, values: Mapping[str, Any]) -> dict[str, str]:
    """References of a row that point at nothing.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    form : Form
        The form.
    values : mapping
        Stored values.

    Returns
    -------
    dict of str to str
        A sentence for each field.
    """
    texts = {n: "" if v is None else str(v) for n, v in values.items()}
    wanted = []
    for field in form.fields:
        kind = form.kind_referred_to(field.name, texts)
        if kind is not None and values.get(field.name) is not None:
            wanted.append((field.name, kind, str(values[field.name])))
    setting = values.get("adapter_id"), values.get("adapter_setting")
    of_adapter = form.kind == "club" and None not in setting
    if not wanted and not of_adapter:
        return {}
    errors: dict[str, str] = {}
    with catalogue.read() as reader:
        for name, kind, key in wanted:
            if reader.find(kind, key) is None:
                error = str(NotFoundError(kind, key, reader.near(kind, key)))
                errors[name] = f"{begun(error)}{'' if error.endswith('?') else '.'}"
        if of_adapter and "adapter_id" not in errors:
            known = [s.setting for s in reader.settings_of(str(setting[0]))]
            if setting[1] not in known:
                has = f"it has: {', '.join(known)}" if known else "no setting of it is in the catalogue"
                errors["adapter_setting"] = f"{setting[0]} has no setting '{setting[1]}'; {has}."
    return errors


def names_within(catalogue: Catalogue, form: Form, name: str, part: str) -> tuple[str, ...]:
    """Names that a field takes within a part: the settings of an adapter, the measured pieces of a shaft.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    form : Form
        The form.
    name : str
        The field; one with :attr:`FormField.within`.
    part : str
        Key of the part.
    """
    from specdb.catalogue.relations import PUBLISHED

    with catalogue.read() as reader:
        if form.field(name).within == "adapter_id":
            return tuple(s.setting for s in reader.settings_of(part))
        return tuple(dict.fromkeys(r.sample for r in reader.readings_of(part) if r.sample != PUBLISHED))
