"""Rows that were not taken, written as they were for correction, each with its reasons before it."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from specdb.catalogue.batch import Batch
from specdb.catalogue.decimals import without_thousands
from specdb.catalogue.headings import is_reason, reason_heading
from specdb.catalogue.sheets import write_sheet


def write_rejected(path: Path, batch: Batch) -> Path | None:
    """Write the rejected rows as they were, each with its reasons before it; None where there are none."""
    rejected = batch.rejected()
    if not rejected:
        return None
    source, table = batch.source, batch.table
    reasons: dict[int, list[str]] = {}
    for problem in rejected:
        reasons.setdefault(problem.row, []).append(problem.message)
    reason, key = reason_heading(table), table.primary_key[0]
    keep = [i for i, h in enumerate(source.headings) if not is_reason(table, h)]
    key_column = next((m.column for m in batch.matches if m.field.name == key), None)
    extra = [key] if key_column is None and batch.repeated else []
    numbers = [m.column for m in batch.matches if m.field.is_number] if batch.decimal == "," else []
    rows = []
    indices = np.flatnonzero(batch.bad).tolist()
    for index, cells in zip(indices, source.cells_of(indices), strict=True):
        # a repeat keeps its number, which it would lose among fewer rows
        repeat = batch.repeated.get(index)
        if repeat and key_column is not None:
            cells[key_column] = repeat
        for column in numbers:
            # fewer rows may no longer show which mark is the decimal one
            cells[column] = without_thousands(cells[column])
        rows.append((int(source.rows[index]), [cells[i] for i in keep] + ([repeat] if extra else [])))
    for ragged in source.ragged:
        width = len(source.headings)
        rows.append((ragged.row, [c for i, c in enumerate(ragged.cells) if i >= width or i in keep]))
    rows.sort(key=lambda r: r[0])
    return write_sheet(
        _free_name(path),
        [reason, *[source.headings[i] for i in keep], *extra],
        [["; ".join(reasons.get(number, [])), *cells] for number, cells in rows],
        delimiter=";" if batch.decimal == "," else ",",
    )


def _free_name(path: Path) -> Path:
    """A name beside the file that no earlier, perhaps half corrected, file has."""
    target, number = path.with_name(f"{path.stem}-rejected.csv"), 1
    while target.exists():
        number += 1
        target = path.with_name(f"{path.stem}-rejected-{number}.csv")
    return target
