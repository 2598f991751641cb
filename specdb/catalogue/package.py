"""The catalogue as a Data Package: a descriptor and one file a kind, out and in again.

The descriptor (``datapackage.json``) carries the table schemas as they stand in ``data_schema/``; numbers are written
so that they read back exactly. An export appears whole or not at all: it is written beside its place and then renamed.
Reading a package back gives an equal catalogue; the journal is part of the export, for the record, but a catalogue
writes its own.

References: Data Package standard 2.0 (https://datapackage.org), Table Schema.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from specdb.catalogue.bulk import Counts
from specdb.catalogue.connect import explained
from specdb.catalogue.store import Catalogue
from specdb.catalogue.tables import arrow_schema
from specdb.errors import ImportFileError, UsageError
from specdb.paths import data_schema_folder
from specdb.schema import Table, load_schema

if TYPE_CHECKING:
    import pyarrow as pa

DESCRIPTOR = "datapackage.json"
NAME = "specdb-catalogue"
Format = Literal["csv", "parquet"]
Progress = Callable[[str, int, int], None]
_MEDIA = {"csv": "text/csv", "parquet": "application/vnd.apache.parquet"}


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
        Where to; made where there is none. An earlier export there is replaced, anything else is left alone.
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
        If the folder holds something that is no export of a catalogue.
    CatalogueError
        If the catalogue cannot be read or the folder cannot be written.
    """
    if format not in _MEDIA:
        raise UsageError(f"a package is written as csv or parquet, not as '{format}'")
    _refuse_foreign(folder)
    with explained(folder):
        folder.parent.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
        try:
            _write_all(catalogue, work, format, progress)
            work.chmod(0o755)
            _put_in_place(work, folder)
        finally:
            shutil.rmtree(work, ignore_errors=True)
    return folder / DESCRIPTOR


def _refuse_foreign(folder: Path) -> None:
    if not folder.exists():
        return
    if not folder.is_dir():
        raise UsageError(f"{folder} is a file; name a folder")
    held = sorted(p.name for p in folder.iterdir())
    if not held:
        return
    try:
        ours = json.loads((folder / DESCRIPTOR).read_text(encoding="utf-8")).get("name") == NAME
    except (OSError, ValueError, AttributeError):
        ours = False
    if not ours:
        raise UsageError(f"{folder} holds {held[0]} and is no earlier export; name an empty folder")


def _put_in_place(work: Path, folder: Path) -> None:
    if not folder.exists():
        work.replace(folder)
        return
    old = folder.with_name(f".{folder.name}-before")
    shutil.rmtree(old, ignore_errors=True)
    folder.replace(old)
    work.replace(folder)
    shutil.rmtree(old, ignore_errors=True)


def _write_all(catalogue: Catalogue, folder: Path, form: Format, progress: Progress | None) -> None:
    tables = list(load_schema().tables.values())
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
        "description": "Every kind of part, readings, stock, fitted clubs, and the journal of changes.",
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
    import pyarrow as pa
    import pyarrow.compute as pc

    if form == "parquet":
        import pyarrow.parquet as pq

        pq.write_table(rows, path, compression="zstd")
        return
    import pyarrow.csv as pacsv

    for field in table.fields:
        if field.type == "datetime":
            at = rows.schema.get_field_index(field.name)
            text = pc.strftime(rows.column(field.name).cast(pa.timestamp("s"), safe=False), format="%Y-%m-%dT%H:%M:%SZ")
            rows = rows.set_column(at, field.name, text)
    pacsv.write_csv(rows, path, pacsv.WriteOptions(quoting_style="needed"))


def import_package(
    catalogue: Catalogue,
    folder: Path,
    *,
    by: str | None = None,
    why: str | None = None,
    progress: Progress | None = None,
) -> dict[str, Counts]:
    """Read a package into a catalogue, in one transaction.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue; rows that it has already are updated.
    folder : Path
        A folder with ``datapackage.json``, as :func:`export_package` writes it.
    by, why : str, optional
        For the journal.
    progress : callable, optional
        Called with the kind being read, kinds done, kinds in all.

    Returns
    -------
    dict of str to Counts
        What came of each kind.

    Raises
    ------
    ImportFileError
        If the folder is no such package, or one of its files cannot be read.
    RowsRejectedError
        If rows cannot be taken; nothing is imported then.
    """
    files = list(_resources(folder))
    done: dict[str, Counts] = {}
    with catalogue.write(by=by, why=why, done="import package") as writer:
        for number, (table, path) in enumerate(files):
            if progress:
                progress(table.title, number, len(files))
            rows = _read_table(table, path)
            if rows.num_rows:
                done[table.name] = writer.put_many(table.name, rows)
    return done


def _resources(folder: Path) -> Iterator[tuple[Table, Path]]:
    """Tables of a package with their files, in an order in which references hold."""
    path = folder / DESCRIPTOR
    try:
        descriptor = json.loads(path.read_text(encoding="utf-8"))
        paths = {str(r["name"]): str(r["path"]) for r in descriptor["resources"]}
        version = int(descriptor.get("schemaVersion", 1))
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise ImportFileError(
            f"{folder} is no Data Package of a catalogue: {path.name} is missing or damaged"
        ) from error
    schema = load_schema()
    if version > schema.version:
        raise ImportFileError(
            f"{folder} was written by a newer version (schema {version}; this one reads up to {schema.version})"
        )
    unknown = sorted(set(paths) - set(schema.tables))
    if unknown:
        raise ImportFileError(f"{folder} holds the table '{unknown[0]}', which a catalogue does not have")
    for table in schema.tables.values():
        if table.internal or table.name not in paths:
            continue
        file = (folder / paths[table.name]).resolve()
        if folder.resolve() not in file.parents:
            raise ImportFileError(f"{path} names the file {paths[table.name]} outside its own folder")
        yield table, file


def _read_table(table: Table, path: Path) -> pa.Table:
    import pyarrow as pa

    wanted = arrow_schema(table)
    try:
        if path.suffix == ".parquet":
            import pyarrow.parquet as pq

            return pq.read_table(path).cast(wanted)
        import pyarrow.csv as pacsv

        return pacsv.read_csv(
            path,
            parse_options=pacsv.ParseOptions(newlines_in_values=True),
            convert_options=pacsv.ConvertOptions(
                column_types=wanted, include_columns=wanted.names, include_missing_columns=True,
                null_values=[""], strings_can_be_null=True, quoted_strings_can_be_null=True,
            ),
        )  # fmt: skip
    except (OSError, pa.ArrowException, ValueError) as error:
        reason = " ".join(str(error).split())[:200]
        raise ImportFileError(f"{path.name} of the package cannot be read: {reason}", file=str(path)) from error
