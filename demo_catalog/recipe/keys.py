"""Keys nobody types, as an import works them out where they are left empty; a test holds the two together."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

SCHEMA_FOLDER = Path(__file__).resolve().parents[2] / "data_schema"


@cache
def table(kind: str) -> dict[str, Any]:
    """Description of a kind, from ``data_schema/``.

    Parameters
    ----------
    kind : str
        Name of the kind.
    """
    loaded: dict[str, Any] = json.loads((SCHEMA_FOLDER / f"{kind}.json").read_text(encoding="utf-8"))
    return loaded


def _text(value: object, kind: str) -> str:
    if value is None:
        return ""
    if kind == "number":
        return str(round(float(str(value)) * 1e6))
    if kind == "date":
        day = dt.date.fromisoformat(str(value))
        return str((day - dt.date(1970, 1, 1)).days)
    return str(int(bool(value))) if kind == "boolean" else str(value)


def digest_key(kind: str, row: Mapping[str, Any]) -> str:
    """Key of a row.

    Parameters
    ----------
    kind : str
        Its kind.
    row : mapping
        Its values by field.
    """
    types = {f["name"]: f["type"] for f in table(kind)["fields"]}
    joined = "\x1f".join(_text(row.get(name), types[name]) for name in table(kind)["deriveKeyFrom"])
    return hashlib.blake2b(joined.encode("utf-8"), digest_size=10).hexdigest()
