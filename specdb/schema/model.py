"""Typed view of the Frictionless Table Schemas in ``data_schema/``.

Each table is one JSON file. Beside the standard's own keys a table may carry ``deriveKeyFrom`` (the fields a
missing key is made from), ``keyStyle`` (``digest`` for keys nobody types), ``appendOnly``, ``internal`` (never
imported or exported by hand), ``workedOut`` (made from the other tables, so never exported) and, for readings, units,
ranges and needed fields by quantity, with the fields that they are of (``valueFields``); a field may carry
``section``, the heading it stands under in a form.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from specdb.errors import InstallationError, UnknownFieldError, UnknownKindError
from specdb.paths import data_schema_folder
from specdb.units import unit_label

_KEY_PATTERN = "[a-z0-9][a-z0-9._-]"


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a table.

    Attributes
    ----------
    name, type, title, description : str
        As in the schema file; ``type`` is a Frictionless type name.
    unit : str or None
        Stored unit (``in``, ``g``, ``deg``, ``n_m2``, …).
    required, unique : bool
        Constraints.
    minimum, maximum : float or None
        Allowed range, inclusive, in the stored unit.
    exclusive_minimum : float or None
        Lower bound that is itself not allowed.
    enum : tuple of str
        Allowed words; empty where any text is allowed.
    pattern : re.Pattern or None
        Text must match it wholly.
    min_length, max_length : int or None
        Length of text.
    example : str or None
        A typical value, for templates and forms.
    references_by : str or None
        The field that names the kind this key refers to.
    length : int or None
        Numbers in an ``array``; only internal tables have such fields.
    section : str
        Heading that the field stands under in a form; empty where it stands in none.
    """

    name: str
    type: str
    title: str
    description: str
    unit: str | None
    required: bool
    unique: bool
    minimum: float | None
    maximum: float | None
    exclusive_minimum: float | None
    enum: tuple[str, ...]
    pattern: re.Pattern[str] | None
    min_length: int | None
    max_length: int | None
    example: str | None
    references_by: str | None
    length: int | None = None
    section: str = ""

    @property
    def is_number(self) -> bool:
        """Whether values are numbers."""
        return self.type in ("number", "integer")

    def allowed(self) -> str:
        """What the field takes, in words, for error messages and help rows."""
        if self.enum:
            return "one of " + ", ".join(self.enum)
        unit = f" {unit_label(self.unit)}" if self.unit else ""
        if self.is_number:
            if self.exclusive_minimum is not None:
                return f"more than {self.exclusive_minimum:g} up to {self.maximum:g}{unit}"
            if self.minimum is not None and self.maximum is not None:
                return f"{self.minimum:g} to {self.maximum:g}{unit}"
            return "a whole number" if self.type == "integer" else f"a number{unit}"
        if self.type == "array":
            return f"{self.length} numbers"
        if self.type == "boolean":
            return "yes or no"
        if self.type in ("date", "datetime"):
            return "a day such as 2026-03-31"
        if self.pattern is not None:
            if self.pattern.pattern.startswith(_KEY_PATTERN):
                return "a short key of lower-case letters, digits, '.', '-' and '_'"
            return f"text such as {self.example}" if self.example else f"text of the form {self.pattern.pattern}"
        return f"text of at most {self.max_length} characters" if self.max_length else "text"

    def capitals(self, text: str) -> str:
        """A text in capitals where the field wants them (``EUR``, ``D2``); otherwise as it is.

        Parameters
        ----------
        text : str
            As typed.
        """
        # a field that takes both spellings wants capitals too: d3 and D3 are one swingweight
        return text.upper() if self.pattern is not None and self.pattern.fullmatch(text.upper()) else text


@dataclass(frozen=True, slots=True)
class Reference:
    """A foreign key: ``field`` of this table holds a key of ``table``."""

    field: str
    table: str


@dataclass(frozen=True, slots=True)
class Table:
    """One kind of thing the catalogue holds, with its fields in order."""

    name: str
    title: str
    description: str
    fields: tuple[Field, ...]
    primary_key: tuple[str, ...]
    references: tuple[Reference, ...]
    derive_key_from: tuple[str, ...]
    key_style: str
    append_only: bool
    internal: bool
    worked_out: bool
    value_fields: tuple[str, ...]
    value_units: Mapping[str, str]
    value_ranges: Mapping[str, tuple[float, float]]
    value_needs: Mapping[str, tuple[str, ...]]

    @property
    def field_names(self) -> tuple[str, ...]:
        """Names of the fields, in order."""
        return tuple(f.name for f in self.fields)

    def field(self, name: str) -> Field:
        """Look a field up by name.

        Raises
        ------
        UnknownFieldError
            If the table has no such field.
        """
        for candidate in self.fields:
            if candidate.name == name:
                return candidate
        raise UnknownFieldError(self.name, name, self.field_names)


@dataclass(frozen=True, slots=True)
class Schema:
    """All tables, in the order of ``data_schema/index.json``."""

    version: int
    tables: Mapping[str, Table]

    @property
    def kinds(self) -> tuple[str, ...]:
        """Names of the tables a person may list, import and change."""
        return tuple(t.name for t in self.tables.values() if not t.internal)

    def table(self, kind: str) -> Table:
        """Look a table up by kind.

        Raises
        ------
        UnknownKindError
            If there is no such kind.
        """
        found = self.tables.get(kind)
        if found is None:
            raise UnknownKindError(kind, self.kinds)
        return found


def _field(raw: Mapping[str, Any]) -> Field:
    limits = raw.get("constraints", {})
    pattern = limits.get("pattern")
    example = raw.get("example")
    return Field(
        name=raw["name"],
        type=raw["type"],
        title=raw["title"],
        description=raw["description"],
        unit=raw.get("unit"),
        required=bool(limits.get("required", False)),
        unique=bool(limits.get("unique", False)),
        minimum=limits.get("minimum"),
        maximum=limits.get("maximum"),
        exclusive_minimum=limits.get("exclusiveMinimum"),
        enum=tuple(limits.get("enum", ())),
        pattern=re.compile(pattern) if pattern else None,
        min_length=limits.get("minLength"),
        max_length=limits.get("maxLength"),
        example=None if example is None else str(example),
        references_by=raw.get("referencesBy"),
        length=raw.get("length"),
        section=raw.get("section", ""),
    )


def _table(raw: Mapping[str, Any]) -> Table:
    return Table(
        name=raw["name"],
        title=raw["title"],
        description=raw["description"],
        fields=tuple(_field(f) for f in raw["fields"]),
        primary_key=tuple(raw["primaryKey"]),
        references=tuple(
            Reference(key["fields"][0], key["reference"]["resource"]) for key in raw.get("foreignKeys", ())
        ),
        derive_key_from=tuple(raw.get("deriveKeyFrom", ())),
        key_style=raw.get("keyStyle", "words"),
        append_only=bool(raw.get("appendOnly", False)),
        internal=bool(raw.get("internal", False)),
        worked_out=bool(raw.get("workedOut", False)),
        value_fields=tuple(raw.get("valueFields", ("value", "sd") if "valueUnits" in raw else ())),
        value_units=MappingProxyType(dict(raw.get("valueUnits", {}))),
        value_ranges=MappingProxyType({k: (v[0], v[1]) for k, v in raw.get("valueRanges", {}).items()}),
        value_needs=MappingProxyType({k: tuple(v) for k, v in raw.get("valueNeeds", {}).items()}),
    )


def read_schema(folder: Path) -> Schema:
    """Read the table descriptions in a folder.

    Parameters
    ----------
    folder : Path
        A folder with ``index.json`` and one file a table.

    Raises
    ------
    InstallationError
        If a file is missing or is no valid description.
    """
    try:
        index = json.loads((folder / "index.json").read_text(encoding="utf-8"))
        tables = {
            name: _table(json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))) for name in index["tables"]
        }
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InstallationError(f"the table descriptions in {folder} cannot be read: {error}") from error
    return Schema(version=int(index["version"]), tables=MappingProxyType(tables))


@lru_cache(maxsize=1)
def load_schema() -> Schema:
    """The shipped schema, read once a process."""
    return read_schema(data_schema_folder())
