"""A Data Package of a catalogue read back, which gives an equal catalogue.

Values are read exactly as :mod:`specdb.catalogue.exporting` wrote them; a table that a person filled in is imported
with :mod:`specdb.catalogue.importing`. The journal of a package is for the record: a catalogue writes its own.
"""

from __future__ import annotations

import csv
import difflib
import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.catalogue.bulk import Counts
from specdb.catalogue.exporting import DESCRIPTOR, NAME, Format, Progress, export_package
from specdb.catalogue.sheets import without_guards
from specdb.catalogue.store import Catalogue
from specdb.catalogue.tables import arrow_schema
from specdb.errors import ImportFileError, indefinite
from specdb.schema import Table, load_schema

if TYPE_CHECKING:
    import pyarrow as pa

__all__ = ["DESCRIPTOR", "NAME", "Format", "export_package", "import_package"]


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
        A folder with ``datapackage.json``, as :func:`~specdb.catalogue.exporting.export_package` writes it.
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
                done[table.name] = writer.put_many(table.name, rows, part_of_more=True)
    return done


def _resources(folder: Path) -> Iterator[tuple[Table, Path]]:
    """Tables of a package with their files, in an order in which references hold."""
    path = folder / DESCRIPTOR
    try:
        descriptor = json.loads(path.read_text(encoding="utf-8"))
        files = {str(r["name"]): (folder / str(r["path"])).resolve() for r in descriptor["resources"]}
        version = int(descriptor.get("schemaVersion", 1))
    except (OSError, ValueError, LookupError, TypeError, OverflowError, RecursionError) as error:
        raise ImportFileError(
            f"{folder} is no Data Package of a catalogue: {path.name} is missing or damaged"
        ) from error
    schema = load_schema()
    if version > schema.version:
        raise ImportFileError(
            f"{folder} was written by a newer version (schema {version}; this one reads up to {schema.version})"
        )
    unknown = sorted(set(files) - set(schema.tables))
    if unknown:
        raise ImportFileError(f"{folder} holds the table '{unknown[0][:60]}', which a catalogue does not have")
    for table in schema.tables.values():
        if table.internal or table.name not in files:
            continue
        file = files[table.name]
        if folder.resolve() not in file.parents:
            raise ImportFileError(f"{path} names the file {file} outside its own folder")
        yield table, file


def _read_table(table: Table, path: Path) -> pa.Table:
    import pyarrow as pa

    try:
        return _read_parquet(table, path) if path.suffix == ".parquet" else _read_csv(table, path)
    except ImportFileError:
        raise
    except (OSError, csv.Error, pa.ArrowException, ValueError) as error:
        reason = " ".join(str(error).split())[:200]
        raise ImportFileError(
            f"{path.name} of the package cannot be read: {reason} (a table that was edited is imported by its kind)",
            file=str(path),
        ) from error


def _read_parquet(table: Table, path: Path) -> pa.Table:
    import pyarrow.parquet as pq

    names = pq.read_schema(path).names
    _refuse_odd_columns(table, path, names)
    return pq.read_table(path).cast(arrow_schema(table, names))


def _read_csv(table: Table, path: Path) -> pa.Table:
    import pyarrow as pa
    import pyarrow.csv as pacsv

    with path.open(encoding="utf-8-sig", newline="") as file:
        names = next(csv.reader(file), [])
    _refuse_odd_columns(table, path, names)
    wanted = arrow_schema(table, names)
    rows = pacsv.read_csv(
        path,
        parse_options=pacsv.ParseOptions(newlines_in_values=True),
        convert_options=pacsv.ConvertOptions(
            column_types=wanted, null_values=[""], strings_can_be_null=True, quoted_strings_can_be_null=True
        ),
    )
    return pa.table({n: without_guards(rows.column(n)) for n in names}, schema=wanted)


def _refuse_odd_columns(table: Table, path: Path, names: Sequence[str]) -> None:
    """Refuse a table whose columns are not fields of its kind: what cannot be kept is not dropped.

    Raises
    ------
    ImportFileError
        If so.
    """
    for at, name in enumerate(names):
        if name not in table.field_names:
            near = difflib.get_close_matches(name, table.field_names, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise ImportFileError(
                f"{path.name} of the package has a column '{name[:60]}', which is no field of "
                f"{indefinite(table.name)}{hint}",
                file=str(path),
                column=name,
            )
        if name in names[:at]:
            raise ImportFileError(f"{path.name} of the package has the column {name} twice", str(path), column=name)
    for name in table.primary_key:
        if name not in names:
            raise ImportFileError(f"{path.name} of the package has no column {name}", str(path), column=name)
