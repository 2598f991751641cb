"""Write rows as a Data Package: one CSV a kind, numbers with fixed decimals, table descriptions as in the schema.

References: Data Package standard 2.0, https://datapackage.org.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from recipe.keys import SCHEMA_FOLDER, table

Row = Mapping[str, Any]

DECIMALS = {
    "tip_dia_in": 3,
    "butt_dia_in": 3,
    "bore_dia_in": 4,
    "inner_dia_in": 4,
    "outer_dia_in": 4,
    "core_dia_in": 3,
    "hosel_outer_dia_in": 3,
    "max_ream_dia_in": 3,
    "tip_growth_in_per_in": 4,
    "tip_trim_in": 3,
    "insertion_in": 3,
    "playing_length_in": 3,
    "bore_depth_in": 3,
    "gap_min_in": 4,
    "gap_max_in": 4,
    "offset_in": 3,
    "price": 2,
    "face_angle_deg": 2,
    "loft_change_deg": 2,
    "lie_change_deg": 2,
    "face_change_deg": 2,
    "load_n": 2,
}
VALUE_DECIMALS = {"ei": 1, "frequency": 0, "deflection": 1, "torque": 2, "weight": 1, "balance": 2}
AS_BUILT_DECIMALS = {"length": 4, "swingweight": 2, "frequency": 0, "loft": 1, "lie": 1, "weight": 1}
BY_ENDING = {"_in": 2, "_g": 1, "_deg": 1, "_n_m2": 1, "_cpm": 1, "_mpa": 1, "_cc": 0, "_hours": 0}


def decimals(field: str, row: Row) -> int:
    """How many decimals a field is written with.

    Parameters
    ----------
    field : str
        Its name.
    row : mapping
        The row; readings are written by their quantity.
    """
    if field == "value" and "club_id" in row:
        return AS_BUILT_DECIMALS[row["quantity"]]
    if field == "value":
        return VALUE_DECIMALS.get(row["quantity"], 4)
    if field == "sd":
        return 4 if row["quantity"] == "outside_diameter" else 1
    if field in DECIMALS:
        return DECIMALS[field]
    return next((n for ending, n in BY_ENDING.items() if field.endswith(ending)), 2)


def _cell(field: str, kind: str, row: Row) -> str:
    value = row.get(field)
    if value is None:
        return ""
    if kind == "number":
        text = f"{value:.{decimals(field, row)}f}"
        if abs(float(text) - value) > 1e-9:
            raise ValueError(f"{field} = {value} needs more than {decimals(field, row)} decimals")
        return text
    if kind == "boolean":
        return "true" if value else "false"
    return str(value)


def csv_text(kind: str, rows: Sequence[Row]) -> str:
    """A table as CSV with all headings of its kind.

    Parameters
    ----------
    kind : str
        Its kind.
    rows : sequence of mapping
        Values by field.

    Raises
    ------
    ValueError
        If a row has a field that the kind does not have, or a number that its decimals would cut short.
    """
    types = {f["name"]: f["type"] for f in table(kind)["fields"]}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(types)
    for row in rows:
        unknown = set(row) - set(types)
        if unknown:
            raise ValueError(f"{kind} has no field {sorted(unknown)}")
        writer.writerow(_cell(name, kind_of, row) for name, kind_of in types.items())
    return out.getvalue()


def descriptor_text(kinds: Sequence[str]) -> str:
    """The descriptor, ``datapackage.json``.

    Parameters
    ----------
    kinds : sequence of str
        The tables, in order.
    """
    index = json.loads((SCHEMA_FOLDER / "index.json").read_text(encoding="utf-8"))
    descriptor = {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "specdb-demonstration",
        "title": "Demonstration catalogue of shafts and heads",
        "description": "Everything in it is invented: makers, models, players, figures.",
        "schemaVersion": index["version"],
        "licenses": [{"name": "MIT", "path": "https://opensource.org/license/mit"}],
        "resources": [
            {
                "name": kind,
                "type": "table",
                "path": f"{kind}.csv",
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "schema": table(kind),
            }
            for kind in kinds
        ],
    }
    return json.dumps(descriptor, indent=2, ensure_ascii=False) + "\n"


def files(tables: Mapping[str, Sequence[Row]]) -> dict[str, str]:
    """Contents of a package by file name.

    Parameters
    ----------
    tables : mapping of str to rows
        By kind.
    """
    made = {f"{kind}.csv": csv_text(kind, rows) for kind, rows in tables.items()}
    return made | {"datapackage.json": descriptor_text(list(tables))}


def write(folder: Path, made: Mapping[str, str]) -> None:
    """Write a package.

    Parameters
    ----------
    folder : Path
        Where to.
    made : mapping of str to str
        From :func:`files`.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in made.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")


def stale(folder: Path, made: Mapping[str, str]) -> list[str]:
    """Files that are missing or differ.

    Parameters
    ----------
    folder : Path
        Where they lie.
    made : mapping of str to str
        From :func:`files`.
    """
    kept = {name: folder / name for name in made}
    return [n for n, path in kept.items() if not path.is_file() or path.read_bytes() != made[n].encode("utf-8")]
