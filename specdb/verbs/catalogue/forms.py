"""What a form of a kind needs: its fields in sections, one value as typed checked, the row as a whole checked.

Everything comes from the table descriptions in ``data_schema/``; nothing here touches the catalogue (see
:mod:`specdb.verbs.catalogue.form_rows` for opening and keeping a row).
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from specdb.errors import FieldError, SpecdbError, UsageError
from specdb.schema import Field, Table
from specdb.units import UNITS, day_in_full, format_quantity, quantity_as_typed, unit_label
from specdb.units.writing import as_sentence, begun
from specdb.verbs.catalogue.kinds import table_of
from specdb.verbs.catalogue.values import AHEAD, parse_value, today

# what a copy of a similar row must not inherit: it names or measures the one thing that was copied
_NOT_COPIED = {
    "shaft": ("supplier_code", "status"),
    "shaft_reading": ("value",),
    "club": ("frequency_cpm", "fitted_on", "status"),
    "choice": ("score", "on", "decided_no"),
}
# names that mean something only within another row, which another field names
_WITHIN = {("club", "adapter_setting"): "adapter_id", ("club", "shaft_sample"): "shaft_id"}
_NOT_COPIED_BY_DEFAULT = ("supplier_code", "status")


@dataclass(frozen=True, slots=True)
class FormField:
    """One field as a form shows it.

    Attributes
    ----------
    field : Field
        The field.
    choices : tuple of str
        Words to choose from; empty where anything may be typed.
    refers_to : str or None
        Kind whose keys the field takes.
    refers_by : str or None
        Field of the same row that names the kind whose keys this one takes.
    is_key : bool
        Whether it is part of the key, which is never changed once the row is there.
    within : str or None
        Field of the same row that names the part of which this is a setting or a piece.
    """

    field: Field
    choices: tuple[str, ...]
    refers_to: str | None
    refers_by: str | None
    is_key: bool
    within: str | None = None

    @property
    def has_list(self) -> bool:
        """Whether there is a list of what it takes."""
        return bool(self.choices or self.refers_to or self.refers_by or self.within)

    @property
    def name(self) -> str:
        """Name of the field."""
        return self.field.name

    @property
    def label(self) -> str:
        """Short title."""
        return self.field.title

    @property
    def help(self) -> str:
        """What it is, what is allowed, and an example, in sentences."""
        parts = [self.field.description]
        if self.choices:
            parts.append(f"One of {', '.join(self.choices)}.")
        elif self.field.is_number or self.field.type == "date":
            allowed = self.field.allowed()
            parts.append(f"{begun(allowed)}.")
        if self.field.example and not self.choices and self.field.type == "number":
            parts.append(f"Such as {self.field.example}.")
        return " ".join(parts)


@dataclass(frozen=True, slots=True)
class Section:
    """Fields that stand together under a heading."""

    title: str
    fields: tuple[FormField, ...]


@dataclass(frozen=True, slots=True)
class Form:
    """The form of a kind.

    Attributes
    ----------
    table : Table
        The kind.
    sections : tuple of Section
        The fields a person fills in, in the order of the table within each section.
    """

    table: Table
    sections: tuple[Section, ...]

    @property
    def kind(self) -> str:
        """Name of the kind."""
        return self.table.name

    @property
    def fields(self) -> tuple[FormField, ...]:
        """All fields, in the order of the form."""
        return tuple(f for s in self.sections for f in s.fields)

    def field(self, name: str) -> FormField:
        """Look a field up by name.

        Raises
        ------
        UnknownFieldError
            If the form has no such field.
        """
        for candidate in self.fields:
            if candidate.name == name:
                return candidate
        return _form_field(self.table, self.table.field(name))

    def unit_of(self, name: str, texts: Mapping[str, str]) -> str:
        """Stored unit of a field; that of a reading's value and of its deviation depends on what was read.

        Parameters
        ----------
        name : str
            The field.
        texts : mapping
            What stands in the other fields.
        """
        if name in self.table.value_fields:
            return self.table.value_units.get(texts.get("quantity", "").strip().lower(), "")
        return self.table.field(name).unit or ""

    def help_of(self, name: str, texts: Mapping[str, str]) -> str:
        """Help of a field; that of a reading's value tells what goes with what was read.

        Parameters
        ----------
        name : str
            The field.
        texts : mapping
            What stands in the other fields.
        """
        quantity = texts.get("quantity", "").strip().lower()
        if name != "value" or quantity not in self.table.value_ranges:
            return self.field(name).help
        (low, high), unit = self.table.value_ranges[quantity], unit_label(self.table.value_units[quantity])
        needs = [self.table.field(n).title.lower() for n in self.table.value_needs.get(quantity, ())]
        also = f" It needs its {' and its '.join(needs)} too." if needs else ""
        return f"{low:g} to {high:g} {unit} for {quantity.replace('_', ' ')}.{also}"

    def kind_referred_to(self, name: str, texts: Mapping[str, str]) -> str | None:
        """Kind whose keys a field takes, given what stands in the other fields; None where it takes none.

        Parameters
        ----------
        name : str
            The field.
        texts : mapping
            What stands in the other fields.
        """
        field = self.field(name)
        if field.refers_to is not None or field.refers_by is None:
            return field.refers_to
        word = texts.get(field.refers_by, "").strip().lower()
        return word if word in self.table.field(field.refers_by).enum else None


@dataclass(frozen=True, slots=True)
class Read:
    """What came of one value as typed.

    Attributes
    ----------
    value : object
        The stored value; None where nothing is typed or it cannot be taken.
    error : str
        Why it cannot be taken, in a sentence; empty where it can.
    meaning : str
        How a quantity was understood, in the stored unit, where it was not typed as it is stored; a day that is still
        to come with its weekday and how far off it is.
    """

    value: Any
    error: str = ""
    meaning: str = ""


def form_of(kind: str) -> Form:
    """The form of a kind.

    Parameters
    ----------
    kind : str
        The kind, as typed.

    Raises
    ------
    UnknownKindError
        If there is no such kind.
    UsageError
        If rows of it are written by the catalogue itself.
    """
    table = table_of(kind)
    if table.internal:
        raise UsageError(f"the {table.title.lower()} is written by the catalogue and not typed")
    grouped: dict[str, list[FormField]] = {}
    for field in table.fields:
        # keys that nobody types are worked out when the row is kept
        if table.key_style == "digest" and field.name in table.primary_key:
            continue
        grouped.setdefault(field.section or table.title, []).append(_form_field(table, field))
    return Form(table, tuple(Section(title, tuple(fields)) for title, fields in grouped.items()))


def _form_field(table: Table, field: Field) -> FormField:
    references = {r.field: r.table for r in table.references}
    choices = field.enum or (("yes", "no") if field.type == "boolean" else ())
    key = field.name in table.primary_key
    within = _WITHIN.get((table.name, field.name))
    return FormField(field, choices, references.get(field.name), field.references_by, key, within)


def as_typed(value: object, unit: str = "") -> str:
    """A stored value as text that is read back as the same value.

    Parameters
    ----------
    value : object
        Stored value; None is the empty text.
    unit : str
        Its stored unit: what was typed in another one is shown so.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return quantity_as_typed(value, unit)
    if isinstance(value, (dt.date, dt.datetime)):
        return value.isoformat()
    return str(value)


def texts_of(form: Form, values: Mapping[str, Any]) -> dict[str, str]:
    """What stands in the fields of a form for a row.

    Parameters
    ----------
    form : Form
        The form.
    values : mapping
        Stored values.
    """
    quantity = {"quantity": str(values.get("quantity") or "")}
    units = {name: form.unit_of(name, quantity) for name in values if name in form.table.field_names}
    return {name: as_typed(value, units.get(name, "")) for name, value in values.items()}


def read_value(form: Form, name: str, text: str, texts: Mapping[str, str] | None = None) -> Read:
    """Read and check one value as typed.

    Parameters
    ----------
    form : Form
        The form.
    name : str
        The field.
    text : str
        As typed, such as ``45 1/2``, ``1156 mm`` or ``2.3 oz``.
    texts : mapping or None
        What stands in the other fields; a reading's quantity tells the unit of its value.
    """
    field = form.table.field(name)
    unit = form.unit_of(name, texts or {})
    field = replace(field, unit=unit or None)
    try:
        value = parse_value(form.table, field, text)
    except SpecdbError as error:
        return Read(None, _sentence(form.table, field, str(error)))
    if isinstance(value, (int, float)) and not isinstance(value, bool) and _is_other_form(text):
        return Read(value, meaning=format_quantity(value, unit) if unit in UNITS else f"{value:g}")
    if name in AHEAD and isinstance(value, dt.date):
        return Read(value, meaning=day_in_full(value, today()))
    return Read(value)


def _is_other_form(text: str) -> bool:
    return re.fullmatch(r"[+-]?\d*\.?\d*", text.strip()) is None


def field_sentence(form: Form, name: str, message: str) -> str:
    """A message about a field for someone who sees the field: with its title, and not named twice.

    Parameters
    ----------
    form : Form
        The form.
    name : str
        The field.
    message : str
        As an error says it.
    """
    return _sentence(form.table, form.table.field(name), message)


def _sentence(table: Table, field: Field, message: str) -> str:
    message = re.sub(rf"^{re.escape(field.name)} of an? {re.escape(table.name)}: ", "", message)
    message = message.removeprefix(f"{table.name}: ")
    message = re.sub(rf"^(?:{re.escape(table.name)} )?{re.escape(field.name)}(?=[: ])", field.title, message)
    named = {f.name: f.title for f in table.fields if "_" in f.name}
    message = re.sub(r"\b[a-z0-9]+(?:_[a-z0-9]+)+\b", lambda m: named.get(m[0], m[0]), message)
    return as_sentence(message)


def read_all(form: Form, texts: Mapping[str, str]) -> tuple[dict[str, Any], dict[str, str]]:
    """Read every field of a form.

    Parameters
    ----------
    form : Form
        The form.
    texts : mapping of str to str
        What stands in the fields.

    Returns
    -------
    values : dict
        Stored values of the fields that can be read; empty ones are None.
    errors : dict of str to str
        A sentence for each that cannot.
    """
    values: dict[str, Any] = {}
    errors: dict[str, str] = {}
    for name, text in texts.items():
        read = read_value(form, name, text, texts)
        if read.error:
            errors[name] = read.error
        else:
            values[name] = read.value
    return values, errors


def check_row(form: Form, values: Mapping[str, Any]) -> dict[str, str]:
    """Check a whole row: what is needed, and whether the fields go together.

    Parameters
    ----------
    form : Form
        The form.
    values : mapping
        Stored values; a field that is left out is unknown.

    Returns
    -------
    dict of str to str
        A sentence for each field that is at fault; empty if all is well.
    """
    from specdb.catalogue.validate import check_values

    table = form.table
    errors: dict[str, str] = {}
    worked_out = {n for n in table.primary_key if values.get(n) is None and table.derive_key_from}
    for field in table.fields:
        if field.required and values.get(field.name) is None and field.name not in worked_out:
            errors[field.name] = f"This is needed: {field.allowed()}."
    if worked_out and derived_key(form, values) is None:
        key, sources = table.primary_key[0], [table.field(n).title for n in table.derive_key_from]
        errors[key] = f"This is needed, or something to work it out from: {', '.join(sources)}."
    # empty fields are told too, as some are needed only beside others; needed ones are told already
    given = {n: values.get(n) for n in table.field_names if n not in worked_out and n not in errors}
    for problem in check_values(table.name, given, partial=True)[1]:
        if problem.field and problem.field not in errors:
            errors[problem.field] = _sentence(table, table.field(problem.field), str(problem))
    return errors


def derived_key(form: Form, values: Mapping[str, Any]) -> str | None:
    """Key that a row without one would get; None if its fields say too little or keys of the kind are typed.

    Parameters
    ----------
    form : Form
        The form.
    values : mapping
        Stored values.
    """
    from specdb.catalogue.validate import derive_key

    if len(form.table.primary_key) != 1 or not form.table.derive_key_from:
        return None
    try:
        return derive_key(form.kind, values)
    except FieldError:
        return None


def copy_of(form: Form, values: Mapping[str, Any]) -> dict[str, Any]:
    """Values that a new row takes over from a similar one: all but the key and what belongs to that one alone.

    Parameters
    ----------
    form : Form
        The form.
    values : mapping
        Stored values of the similar row.
    """
    left_out = {*form.table.primary_key, *_NOT_COPIED.get(form.kind, _NOT_COPIED_BY_DEFAULT)}
    if len(form.table.primary_key) > 1:
        left_out.discard(form.table.primary_key[0])
    return {f.name: values.get(f.name) for f in form.fields if f.name not in left_out}


def titled(form: Form, name: str, texts: Mapping[str, str] | None = None) -> str:
    """Title of a field with its unit.

    Parameters
    ----------
    form : Form
        The form.
    name : str
        The field.
    texts : mapping or None
        What stands in the other fields.
    """
    unit = form.unit_of(name, texts or {})
    return f"{form.table.field(name).title}, {unit_label(unit)}" if unit else form.table.field(name).title
