"""Make the demonstration catalogue: run ``python demo_catalog/make_demo.py`` from anywhere.

With ``--check`` it writes nothing and exits 1 where a file differs from what it would write.

Everything is invented by the recipe beside this file, so that nothing in the catalogue is anyone's. The same recipe
gives the same files, byte for byte. Needs numpy.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from recipe import adapters, clubs, heads, orders, package, readings, references, shafts, small_parts, stock

HERE = Path(__file__).resolve().parent


def tables() -> Mapping[str, Sequence[Mapping[str, Any]]]:
    """All rows, by kind, in the order of the schema."""
    designs = shafts.designs()
    return {
        "shaft": [shafts.row(d) for d in designs],
        "shaft_reading": readings.rows(designs),
        "reference_reading": references.rows(),
        "head": heads.rows(),
        "adapter": adapters.rows(),
        "adapter_setting": adapters.setting_rows(),
        "sleeve": small_parts.sleeves(),
        "ferrule": small_parts.ferrules(),
        "grip": small_parts.grips(),
        "adhesive": small_parts.adhesives(),
        "stock_move": [*stock.moves(designs), *orders.moves()],
        "supply": stock.supply(),
        "club": clubs.rows(designs),
        "weighting": clubs.weightings(),
        "choice": clubs.choices(),
        "order": orders.orders(),
        "order_line": orders.lines(),
        "reservation": orders.reservations(),
        "as_built": orders.as_built(designs),
    }


def main() -> int:
    """Write the package, or check it."""
    parser = argparse.ArgumentParser(description="Make the demonstration catalogue.")
    parser.add_argument("--to", type=Path, default=HERE, metavar="FOLDER", help="where to (default: beside this file)")
    parser.add_argument("--check", action="store_true", help="write nothing; exit 1 where a file differs")
    asked = parser.parse_args()
    made = package.files(tables())
    if not asked.check:
        package.write(asked.to, made)
        return 0
    stale = package.stale(asked.to, made)
    if stale:
        print(f"differs from what the recipe makes: {', '.join(stale)}", file=sys.stderr)
    return 1 if stale else 0


if __name__ == "__main__":
    raise SystemExit(main())
