"""The whole catalogue written to a folder as a Data Package: a descriptor and one file a kind.

The descriptor (``datapackage.json``) carries the table schemas as they stand in ``data_schema/``; numbers are written
so that they read back exactly, and the journal is part of the export, for the record. In CSV files a text that a
spreadsheet would take for a formula has an apostrophe before it, as in every table that is written.

An export appears whole or not at all: it is written beside its place and then renamed. It takes the place of an earlier
export, and of nothing else.

References: Data Package standard 2.0 (https://datapackage.org), Table Schema.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from specdb.catalogue.connect import explained
from specdb.catalogue.sheets import with_guards
from specdb.catalogue.store import Catalogue
from specdb.errors import UsageError
from specdb.paths import data_schema_folder
from specdb.schema import Table, load_schema

if TYPE_CHECKING:
    import pyarrow as pa

DESCRIPTOR = "datapackage.json"
NAME = "specdb-catalogue"
Format = Literal["csv", "parquet"]
Progress = Callable[[str, int, int], None]
_MEDIA = {"csv": "text/csv", "parquet": "application/vnd.apache.parquet"}
# what desktops leave in folders that were looked at
_LITTER = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})


def export_package(
    catalogue: Catalogue,
    folder: Path,
    *,
    format: Format = "csv",  # noqa: A002 - the word of the command
    progress: Progress | None = None,
) -> Path:
    """Write the whole catalogue to a folder.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    folder : Path
        Where to; made where there is none. An earlier export there is replaced; a folder that holds anything else is
        refused and left alone.
    format : {'csv', 'parquet'}
        Form of the tables.
    progress : callable, optional
        Called with the kind being written, kinds done, kinds in all.

    Returns
    -------
    Path
        The descriptor.

    Raises
    ------
    UsageError
        If the folder holds something that is no export of a catalogue, or is the one the program runs in.
    CatalogueError
        If the catalogue cannot be read or the folder cannot be written.
    """
    if format not in _MEDIA:
        raise UsageError(f"a package is written as csv or parquet, not as '{format}'")
    with explained(folder):
        target = folder.resolve()
        _refuse_foreign(target)
        target.parent.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
        try:
            fresh = work / "export"
            fresh.mkdir()  # with the rights that the user's folders have
            _write_all(catalogue, fresh, format, progress)
            _put_in_place(fresh, target)
        finally:
            shutil.rmtree(work, ignore_errors=True)
    return folder / DESCRIPTOR


def _refuse_foreign(folder: Path) -> None:
    """Refuse a folder that an export may not take the place of.

    Raises
    ------
    UsageError
        If so.
    """
    if not folder.exists():
        return
    if not folder.is_dir():
        raise UsageError(f"{folder} is a file; name a folder")
    if folder == Path.cwd():
        raise UsageError(f"an export takes the place of its folder, and you are in {folder}; name a folder in it")
    held = sorted(p.name for p in folder.iterdir() if p.name not in _LITTER)
    ours = _files_of_export(folder)
    if held and not ours:
        raise UsageError(f"{folder} holds {held[0]} and is no earlier export; name an empty folder")
    others = [name for name in held if name not in ours or not (folder / name).is_file()]
    if others:
        raise UsageError(
            f"{folder} is an earlier export, but holds {others[0]} too, which would be lost; move that elsewhere, or "
            "name another folder"
        )


def _files_of_export(folder: Path) -> set[str]:
    """Files of an earlier export; empty where there is none."""
    try:
        descriptor = json.loads((folder / DESCRIPTOR).read_text(encoding="utf-8"))
        if descriptor["name"] != NAME:
            return set()
        return {DESCRIPTOR, *(str(r["path"]) for r in descriptor["resources"])}
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return set()


def _put_in_place(fresh: Path, folder: Path) -> None:
    _refuse_foreign(folder)  # once more, as writing takes its time
    if not folder.exists():
        fresh.replace(folder)
        return
    old = fresh.with_name("before")
    folder.replace(old)
    try:
        fresh.replace(folder)
    except BaseException:
        old.replace(folder)
        raise


def _write_all(catalogue: Catalogue, folder: Path, form: Format, progress: Progress | None) -> None:
    tables = [t for t in load_schema().tables.values() if not t.worked_out]
    resources = []
    with catalogue.read() as reader:
        for number, table in enumerate(tables):
            if progress:
                progress(table.title, number, len(tables))
            rows = reader.arrow(table.name, order_by=table.primary_key)
            _write_table(table, rows, folder / f"{table.name}.{form}", form)
            resources.append(_resource(table, form))
    descriptor = {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": NAME,
        "title": "Shaft and head catalogue",
        "description": (
            "Every kind of part, readings, stock, fitted clubs, and the journal of changes. In CSV files a text that "
            "begins like a formula has an apostrophe before it, which reading takes off again."
        ),
        "schemaVersion": load_schema().version,
        "resources": resources,
    }
    text = json.dumps(descriptor, indent=2, ensure_ascii=False)
    (folder / DESCRIPTOR).write_text(text + "\n", encoding="utf-8")


def _resource(table: Table, form: Format) -> dict[str, Any]:
    schema = json.loads((data_schema_folder() / f"{table.name}.json").read_text(encoding="utf-8"))
    resource: dict[str, Any] = {
        "name": table.name,
        "type": "table",
        "path": f"{table.name}.{form}",
        "format": form,
        "mediatype": _MEDIA[form],
        "schema": schema,
    }
    if form == "csv":
        resource["encoding"] = "utf-8"
    return resource


def _write_table(table: Table, rows: pa.Table, path: Path, form: Format) -> None:
    import pyarrow.compute as pc

    if form == "parquet":
        import pyarrow.parquet as pq

        pq.write_table(rows, path, compression="zstd")
        return
    import pyarrow.csv as pacsv

    for at, field in enumerate(table.fields):
        column = rows.column(field.name)
        if field.type == "datetime":
            column = pc.strftime(column, format="%Y-%m-%dT%H:%M:%SZ")  # seconds come with their fractions
        elif field.type == "string":
            column = with_guards(column)
        rows = rows.set_column(at, field.name, column)
    pacsv.write_csv(rows, path, pacsv.WriteOptions(quoting_style="needed"))
