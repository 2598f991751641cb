"""Rows of the kinds ``sleeve``, ``ferrule``, ``grip`` and ``adhesive``."""

from __future__ import annotations

from recipe import makers
from recipe.heads import Row


def _from(supplier: str, code: str, price: float) -> Row:
    return {
        "supplier": supplier,
        "supplier_code": f"{supplier[:2].upper()}-{code}",
        "price": price,
        "currency": "EUR",
        "status": "active",
        "source": makers.SOURCE,
    }


def sleeves() -> list[Row]:
    """Sleeves; the inner side clears the tip by 0.0035 in at most, the outer side a bore by 0.003 in."""
    made = (
        # key, inner, its form, outer, its form, length, weight
        ("sleeve-335-350", 0.3385, "parallel", 0.3505, "parallel", 1.50, 1.3),
        ("sleeve-335-350-long", 0.3385, "parallel", 0.3505, "parallel", 1.75, 1.5),
        ("sleeve-335-370", 0.3385, "parallel", 0.3705, "parallel", 1.50, 3.4),
        ("sleeve-350-370", 0.3535, "parallel", 0.3705, "parallel", 1.50, 1.9),
        ("sleeve-355t-370", 0.3675, "taper", 0.3705, "parallel", 1.25, 0.6),
        ("sleeve-335-355t", 0.3385, "parallel", 0.3550, "taper", 1.25, 2.0),
    )
    return [
        {
            "id": key,
            "inner_dia_in": inner,
            "inner_form": inner_form,
            "outer_dia_in": outer,
            "outer_form": outer_form,
            "length_in": length,
            "weight_g": weight,
            **_from(makers.GREYFEN, f"S{i + 1:02d}", 1.20),
        }
        for i, (key, inner, inner_form, outer, outer_form, length, weight) in enumerate(made)
    ]


def ferrules() -> list[Row]:
    """Ferrules, pressed on: the hole is a little under the shaft there."""
    made = (
        ("ferrule-335-500", 0.335, 0.500, 0.80, 1.1),
        ("ferrule-335-490", 0.335, 0.490, 0.70, 1.0),
        ("ferrule-350-510", 0.350, 0.510, 0.80, 1.1),
        ("ferrule-350-490", 0.350, 0.490, 0.70, 1.0),
        ("ferrule-355t-530", 0.362, 0.530, 0.90, 1.2),
        ("ferrule-355t-540", 0.362, 0.540, 0.90, 1.3),
        ("ferrule-370-515", 0.370, 0.515, 0.75, 1.0),
        ("ferrule-370-530", 0.370, 0.530, 0.90, 1.2),
        ("ferrule-370-540", 0.370, 0.540, 0.90, 1.2),
        ("ferrule-370-520", 0.370, 0.520, 0.50, 0.8),
    )
    return [
        {
            "id": key,
            "inner_dia_in": inner,
            "outer_dia_in": outer,
            "length_in": length,
            "weight_g": weight,
            **_from(makers.POSTERN, f"F{i + 1:02d}", 0.90),
        }
        for i, (key, inner, outer, length, weight) in enumerate(made)
    ]


def grips() -> list[Row]:
    """Grips; of two the balance point is not known, of one the cap."""
    made = (
        # maker, model, weight, core, length, cap, balance, rib
        (makers.PELLOW, "Reed", 50.0, 0.600, 10.5, 0.10, 4.2, "round"),
        (makers.PELLOW, "Reed", 51.0, 0.600, 10.5, 0.10, 4.2, "ribbed"),
        (makers.PELLOW, "Reed", 48.0, 0.580, 10.5, 0.10, 4.1, "round"),
        (makers.PELLOW, "Reed Mid", 62.0, 0.600, 10.5, 0.12, 4.3, "round"),
        (makers.PELLOW, "Fen", 42.0, 0.600, 10.25, 0.10, 4.0, "round"),
        (makers.PELLOW, "Fen Light", 35.0, 0.600, 10.25, None, None, "round"),
        (makers.KESTMOOR, "Cord", 52.0, 0.600, 10.6, 0.12, 4.2, "round"),
        (makers.KESTMOOR, "Cord", 50.0, 0.580, 10.6, 0.12, 4.2, "round"),
        (makers.KESTMOOR, "Sapling", 30.0, 0.500, 8.5, 0.08, None, "round"),
        (makers.KESTMOOR, "Steady", 70.0, 0.580, 10.5, 0.15, 4.6, "ribbed"),
        (makers.KESTMOOR, "Steady Wide", 95.0, 0.590, 11.0, 0.15, 4.8, "ribbed"),
    )
    return [
        {
            "id": f"{makers.SHORT[maker]}-{model.lower().replace(' ', '-')}-{weight:g}-{1000 * core:g}",
            "maker": maker,
            "model": model,
            "weight_g": weight,
            "core_dia_in": core,
            "length_in": length,
            "cap_in": cap,
            "balance_from_cap_in": balance,
            "rib": rib,
            **_from(makers.SUPPLIER[maker], f"G{i + 1:02d}", 4.80 + 0.05 * weight),
        }
        for i, (maker, model, weight, core, length, cap, balance, rib) in enumerate(made)
    ]


def adhesives() -> list[Row]:
    """Three epoxies."""
    said = "Follow the maker's sheet: gloves, eye protection, fresh air, full cure before a ball is hit."
    made = (
        ("epoxy-long", 24.0, 0.001, 0.006, 24.0, 14.0, said),
        ("epoxy-quick", 16.0, 0.001, 0.006, 2.0, 11.0, f"For demonstration builds. {said}"),
        ("epoxy-filled", 21.0, 0.002, 0.009, 36.0, 17.5, f"Thickened, for a wider gap. {said}"),
    )
    return [
        {
            "id": key,
            "shear_mpa": shear,
            "gap_min_in": low,
            "gap_max_in": high,
            "cure_hours": hours,
            **_from(makers.GREYFEN, f"E{i + 1:02d}", price),
            "notes": note,
        }
        for i, (key, shear, low, high, hours, price, note) in enumerate(made)
    ]
