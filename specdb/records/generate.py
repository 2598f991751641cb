"""Write ``specdb/records/rows.py`` from ``data_schema/``; a test fails when the file is out of date.

Run ``python -m specdb.records.generate`` after a change of the schema.
"""

from __future__ import annotations

from pathlib import Path

from specdb.schema import Field, Schema, Table, load_schema

_TYPES = {
    "string": "str",
    "number": "float",
    "integer": "int",
    "boolean": "bool",
    "date": "dt.date",
    "datetime": "dt.datetime",
    "array": "tuple[float, ...]",
}
_HEADER = '''"""One frozen record a table. Made from ``data_schema/`` by ``specdb.records.generate``: do not edit."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
'''


def class_name(kind: str) -> str:
    """Name of the record class of a kind: ``shaft_reading`` gives ``ShaftReading``."""
    return "".join(part.capitalize() for part in kind.split("_"))


def _line(field: Field) -> str:
    kind = _TYPES[field.type]
    return f"    {field.name}: {kind}" if field.required else f"    {field.name}: {kind} | None = None"


def _record(table: Table) -> str:
    fields = sorted(table.fields, key=lambda f: not f.required)
    body = "\n".join(_line(f) for f in fields)
    decorator = "@dataclass(frozen=True, slots=True, kw_only=True)"
    return f'{decorator}\nclass {class_name(table.name)}:\n    """{table.description}"""\n\n{body}\n'


def rows_source(schema: Schema) -> str:
    """Python source of the record classes.

    Parameters
    ----------
    schema : Schema
        The schema to write records for.
    """
    classes = "\n\n".join(_record(table) for table in schema.tables.values())
    pairs = "\n".join(f'    "{name}": {class_name(name)},' for name in schema.tables)
    return f"{_HEADER}\n\n{classes}\n\nRECORDS: dict[str, type] = {{\n{pairs}\n}}\n"


def main() -> None:
    """Write the file."""
    target = Path(__file__).with_name("rows.py")
    target.write_text(rows_source(load_schema()), encoding="utf-8")


if __name__ == "__main__":
    main()
