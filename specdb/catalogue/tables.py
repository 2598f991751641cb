"""The DuckDB tables, made from ``data_schema/``: SQL text, Arrow types, rows to records.

References are no foreign keys (DuckDB refuses any update of a row that is referred to); they are checked in the
write path, within the transaction, and by the integrity check.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from specdb.errors import UsageError
from specdb.records.rows import RECORDS
from specdb.schema import Field, Schema, Table

if TYPE_CHECKING:
    import duckdb
    import pyarrow as pa

META_TABLE = "catalogue_meta"
JOURNAL = "change"

_SQL_TYPES = {
    "string": "VARCHAR",
    "number": "DOUBLE",
    "integer": "BIGINT",
    "boolean": "BOOLEAN",
    "date": "DATE",
    "datetime": "TIMESTAMP",
}


def quoted(name: str) -> str:
    """Quote an identifier, as ``on`` and ``by`` are words of SQL."""
    return '"' + name.replace('"', '""') + '"'


def literal(text: str) -> str:
    """Quote a text literal of the schema's own words."""
    return "'" + text.replace("'", "''") + "'"


def sql_type(field: Field) -> str:
    """Type of a field's column."""
    return f"FLOAT[{field.length}]" if field.type == "array" else _SQL_TYPES[field.type]


def column_list(names: Iterable[str], prefix: str = "") -> str:
    """Quoted names, separated by commas, each with a table's alias before it."""
    dot = f"{prefix}." if prefix else ""
    return ", ".join(dot + quoted(n) for n in names)


def _checks(field: Field) -> list[str]:
    name = quoted(field.name)
    rules = []
    if field.minimum is not None:
        rules.append(f"{name} >= {field.minimum!r}")
    if field.exclusive_minimum is not None:
        rules.append(f"{name} > {field.exclusive_minimum!r}")
    if field.maximum is not None:
        rules.append(f"{name} <= {field.maximum!r}")
    elif field.type == "number":
        rules.append(f"isfinite({name})")
    if field.enum:
        rules.append(f"{name} IN ({', '.join(literal(w) for w in field.enum)})")
    if field.pattern is not None:
        rules.append(f"regexp_full_match({name}, {literal(field.pattern.pattern)})")
    elif field.max_length is not None:
        rules.append(f"length({name}) <= {field.max_length}")
    if field.type == "string" and not field.enum and field.pattern is None:
        rules.append(f"{name} <> ''")  # empty means unknown, and unknown is NULL
    return rules


def create_table_sql(table: Table, name: str | None = None) -> str:
    """SQL that makes a table with its keys, NOT NULL and CHECK.

    Parameters
    ----------
    table : Table
        Description of the table.
    name : str, optional
        Name of the table where it differs from the kind.
    """
    lines = []
    for field in table.fields:
        key = field.name in table.primary_key
        parts = [quoted(field.name), sql_type(field)]
        if field.required or key:
            parts.append("NOT NULL")
        if field.unique and table.primary_key != (field.name,):
            parts.append("UNIQUE")
        parts += [f"CHECK ({rule})" for rule in _checks(field)]
        lines.append(" ".join(parts))
    if not table.internal:
        # The journal is written here only and its numbers are given out within the transaction: an index over
        # millions of its rows would double the time of an import. The integrity check looks for doubles.
        lines.append(f"PRIMARY KEY ({column_list(table.primary_key)})")
    return f"CREATE TABLE {quoted(name or table.name)} (\n  " + ",\n  ".join(lines) + "\n)"


def create_schema_sql(schema: Schema) -> list[str]:
    """SQL statements for an empty catalogue."""
    meta = f"CREATE TABLE {META_TABLE} (name VARCHAR PRIMARY KEY, value VARCHAR NOT NULL)"
    return [meta, *(create_table_sql(t) for t in schema.tables.values())]


def arrow_type(field: Field) -> pa.DataType:
    """Arrow type of a field's column."""
    import pyarrow as pa

    kinds = {
        "string": pa.string(),
        "number": pa.float64(),
        "integer": pa.int64(),
        "boolean": pa.bool_(),
        "date": pa.date32(),
        "datetime": pa.timestamp("us"),
    }
    return pa.list_(pa.float32(), field.length) if field.type == "array" else kinds[field.type]


def arrow_schema(table: Table, names: Sequence[str] | None = None) -> pa.Schema:
    """Arrow schema of a table, or of some of its columns.

    Parameters
    ----------
    table : Table
        Description of the table.
    names : sequence of str, optional
        Only these fields, in this order.
    """
    import pyarrow as pa

    fields = table.fields if names is None else [table.field(n) for n in names]
    return pa.schema([pa.field(f.name, arrow_type(f)) for f in fields])


def as_columns(table: Table, rows: pa.Table) -> pa.Table:
    """Bring an Arrow table to the column types of a kind, columns in any order.

    Raises
    ------
    UnknownFieldError
        If a column is no field of the kind.
    UsageError
        If a column cannot be brought to its type.
    """
    import pyarrow as pa

    wanted = arrow_schema(table, rows.column_names)
    try:
        return rows.cast(wanted)
    except (pa.ArrowInvalid, pa.ArrowNotImplementedError) as error:
        raise UsageError(f"the columns given for {table.name} have not the field's types: {error}") from error


def record(kind: str, names: Sequence[str], row: Sequence[object]) -> Any:  # noqa: ANN401 - a record class a kind
    """Typed record of a row.

    Parameters
    ----------
    kind : str
        Kind of the row.
    names : sequence of str
        Names of the columns.
    row : sequence
        Values in the same order.
    """
    return RECORDS[kind](**dict(zip(names, row, strict=True)))


def key_text(table: Table, values: Mapping[str, object]) -> str:
    """Key of a row as one text; composite keys are written ``part/part``."""
    return "/".join(str(values[name]) for name in table.primary_key)


def key_parts(table: Table, key: str) -> tuple[str, ...]:
    """Take a key text apart.

    Raises
    ------
    UsageError
        If a composite key lacks a part.
    """
    parts = tuple(key.split("/", len(table.primary_key) - 1))
    if len(parts) != len(table.primary_key) or not all(parts):
        shape = "/".join(table.primary_key).upper()
        raise UsageError(f"a {table.name} is named as {shape}, not '{key}'")
    return parts


def key_sql(table: Table, alias: str = "") -> str:
    """SQL expression of the key text."""
    dot = f"{alias}." if alias else ""
    return " || '/' || ".join(dot + quoted(n) for n in table.primary_key)


def key_match(table: Table) -> str:
    """SQL condition for one row by its key parts, as parameters."""
    return " AND ".join(f"{quoted(n)} = ?" for n in table.primary_key)


def image_sql(table: Table, alias: str, columns: Mapping[str, str] | None = None) -> str:
    """SQL expression of a row as JSON for the journal; unknown fields are left out.

    Parameters
    ----------
    table : Table
        Description of the table.
    alias : str
        Alias the columns are read from.
    columns : mapping, optional
        Expressions for single columns, by field name; others are read from the alias.
    """
    given = columns or {}
    packed = ", ".join(f"{quoted(f)} := {given.get(f, f'{alias}.{quoted(f)}')}" for f in table.field_names)
    # A merge patch drops nulls, so an image stays readable when fields are added later.
    return f"json_merge_patch('{{}}', to_json(struct_pack({packed})))"


def image_struct(table: Table) -> str:
    """Structure text with which ``from_json`` reads an image back."""
    inner = ", ".join(f'"{f.name}":"{sql_type(f)}"' for f in table.fields)
    return "{" + inner + "}"


def first_row(
    con: duckdb.DuckDBPyConnection, sql: str, values: Sequence[object] | None = None
) -> tuple[Any, ...] | None:
    """First row of a query that gives few, or None; the result is read to its end, as DuckDB wants it."""
    found = con.execute(sql, values).fetchall()
    return found[0] if found else None
