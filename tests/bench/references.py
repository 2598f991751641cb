"""Parts and fitted clubs of the benchmark catalogues."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa

from specdb.catalogue import Catalogue

CLUBS = 20


def add_fixed_parts(path: Path) -> None:
    """Make the catalogue with a head, a grip and a sleeve.

    Parameters
    ----------
    path : Path
        The file to make.
    """
    catalogue = Catalogue.create(path)
    with catalogue.write(done="benchmark parts") as writer:
        writer.put(
            "head",
            {
                "id": "bench-head",
                "club_type": "wood",
                "hand": "right",
                "weight_g": 198.0,
                "bore_dia_in": 0.338,
                "bore_form": "parallel",
                "bore_depth_in": 1.25,
                "bore_to_ground_in": 1.5,
                "cg_below_mouth_in": 1.35,
                "hosel_outer_dia_in": 0.520,
            },
            mode="add",
        )
        writer.put(
            "grip",
            {
                "id": "bench-grip",
                "weight_g": 50.0,
                "cap_in": 0.25,
                "core_dia_in": 0.6,
                "length_in": 10.5,
                "balance_from_cap_in": 4.2,
            },
            mode="add",
        )


def reference_clubs(path: Path, shafts: pa.Table) -> list[str]:
    """Fit clubs with random wood shafts.

    Parameters
    ----------
    path : Path
        The catalogue.
    shafts : pyarrow.Table
        Its shafts.

    Returns
    -------
    list of str
        Keys of the clubs.
    """
    rng = np.random.default_rng(1)
    woods = [r["id"] for r in shafts.select(["id", "club_type"]).to_pylist() if r["club_type"] == "wood"]
    names = []
    with Catalogue(path).write(done="benchmark clubs") as writer:
        for number, shaft in enumerate(rng.choice(woods, CLUBS, replace=False)):
            name = f"bench-club-{number}"
            names.append(name)
            writer.put(
                "club",
                {
                    "id": name,
                    "head_id": "bench-head",
                    "grip_id": "bench-grip",
                    "shaft_id": str(shaft),
                    "tip_trim_in": float(rng.choice([0.0, 0.5, 1.0])),
                    "playing_length_in": 44.75,
                    "swingweight": "D2.5",
                },
                mode="add",
            )
    return names
