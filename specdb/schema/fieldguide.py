"""The field reference (``data_schema/FIELDS.md``), made from the schema; a test fails when it is out of date.

Run ``python -m specdb.schema.fieldguide`` after a change of the schema.
"""

from __future__ import annotations

from specdb.paths import data_schema_folder
from specdb.schema.model import Schema, Table, load_schema

FILE = "FIELDS.md"


def _section(table: Table) -> str:
    key = ", ".join(f"`{k}`" for k in table.primary_key)
    lines = [f"## {table.name}", "", f"{table.title}. {table.description} Key: {key}."]
    if table.derive_key_from:
        derived = ", ".join(f"`{n}`" for n in table.derive_key_from)
        lines.append(f"An empty key is made from {derived}.")
    if table.append_only:
        lines.append("Rows are only added; a wrong one is put right by another one.")
    if table.internal:
        lines.append("Written by the catalogue itself, never imported.")
    lines += ["", "| field | type | unit | what it is | allowed |", "|---|---|---|---|---|"]
    references = {r.field: r.table for r in table.references}
    for field in table.fields:
        allowed = f"a key of `{references[field.name]}`" if field.name in references else field.allowed()
        allowed = allowed.replace("|", "\\|")
        needed = " (needed)" if field.required else ""
        lines.append(
            f"| `{field.name}`{needed} | {field.type} | {field.unit or ''} | {field.description} | {allowed} |"
        )
    for quantity, unit in table.value_units.items():
        low, high = table.value_ranges[quantity]
        needs = table.value_needs.get(quantity, ())
        with_ = f"; needs {', '.join(needs)}" if needs else ""
        lines.append(f"\n`{quantity}`: value in {unit}, {low:g} to {high:g}{with_}.")
    return "\n".join(lines) + "\n"


def field_guide(schema: Schema) -> str:
    """The reference as Markdown.

    Parameters
    ----------
    schema : Schema
        The schema.
    """
    head = (
        "# Fields of the catalogue\n\nMade from the table descriptions in this folder by "
        "`python -m specdb.schema.fieldguide`; do not edit.\n\n"
    )
    return head + "\n".join(_section(t) for t in schema.tables.values())


def main() -> None:
    """Write the file."""
    (data_schema_folder() / FILE).write_text(field_guide(load_schema()), encoding="utf-8")


if __name__ == "__main__":
    main()
