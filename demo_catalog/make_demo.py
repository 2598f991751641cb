"""Write the invented demonstration catalogue: ``python demo_catalog/make_demo.py [--check]``.

``--check`` writes nothing and exits 1 where the files differ from what would be written. Everything is invented.
"""

from __future__ import annotations

import csv
import io
import json
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from recipe import clubs, heads, parts, shafts  # noqa: E402

SCHEMAS = HERE.parent / "data_schema"
NAME = "specdb-catalogue"


def tables() -> dict[str, list[dict[str, Any]]]:
    """All rows by kind."""
    shelf = shafts.Shelfful()
    for fill in (shafts.woods, shafts.hybrids, shafts.parallel_irons, shafts.taper_irons, shafts.wedges_and_putters):
        fill(shelf)
    clubs.bench_readings(shelf)
    small = {
        "head": heads.heads(),
        "adapter": parts.adapters(),
        "sleeve": parts.sleeves(),
        "ferrule": parts.ferrules(),
        "grip": parts.grips(),
        "adhesive": parts.adhesives(),
    }
    return {
        "shaft": shelf.shafts,
        "shaft_reading": shelf.readings,
        **small,
        "adapter_setting": parts.adapter_settings(),
        "stock_move": clubs.stock_moves(shelf.shafts, small),
        "supply": clubs.supply(shelf.shafts),
        "club": clubs.clubs(),
        "weighting": parts.weightings(),
        "choice": clubs.choices(),
    }


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:g}" if abs(value) < 1e5 else repr(value)
    return str(value)


def files() -> dict[str, str]:
    """What is to be written, by file name."""
    index = json.loads((SCHEMAS / "index.json").read_text(encoding="utf-8"))
    made, written, resources = tables(), {}, []
    for kind in index["tables"]:
        if kind not in made:
            continue
        schema = json.loads((SCHEMAS / f"{kind}.json").read_text(encoding="utf-8"))
        names = [f["name"] for f in schema["fields"]]
        unknown = {k for row in made[kind] for k in row} - set(names)
        if unknown:
            raise SystemExit(f"{kind}: no such fields: {sorted(unknown)}")
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(names)
        writer.writerows([_text(row.get(n)) for n in names] for row in made[kind])
        written[f"{kind}.csv"] = out.getvalue()
        resources.append(
            {
                "name": kind,
                "type": "table",
                "path": f"{kind}.csv",
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "schema": schema,
            }
        )
    package = {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": NAME,
        "title": "Demonstration catalogue",
        "description": "Everything in it is invented: makers, models, players, figures.",
        "schemaVersion": index["version"],
        "resources": resources,
    }
    written["datapackage.json"] = json.dumps(package, indent=1, ensure_ascii=False) + "\n"
    return written


def main() -> int:
    """Write or check the files."""
    check = "--check" in sys.argv[1:]
    stale = []
    for name, text in files().items():
        path = HERE / name
        if check:
            if not path.exists() or path.read_text(encoding="utf-8") != text:
                stale.append(name)
        else:
            path.write_text(text, encoding="utf-8")
    if stale:
        print(f"out of date: {', '.join(stale)}", file=sys.stderr)
    return 1 if stale else 0


if __name__ == "__main__":
    raise SystemExit(main())
