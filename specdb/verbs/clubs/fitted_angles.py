"""Loft and lie that a finished club is to have: as recorded at the fitting, else what its head has in its setting."""

from __future__ import annotations

from specdb.catalogue import Reader
from specdb.records.rows import Club, Head
from specdb.sets.angles import as_fitted, setting_named


def fitted_angles(reader: Reader, club: Club) -> tuple[float | None, float | None]:
    """Loft and lie of a fitted club, deg; None where unknown.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    club : Club
        The fitted club; what the setting of its adapter changes is counted in, where the angle itself is not recorded.
    """
    head: Head = reader.get("head", club.head_id)
    settings = () if club.adapter_id is None else tuple(reader.settings_of(club.adapter_id))
    return as_fitted(head, setting_named(settings, club.adapter_setting), club.loft_deg, club.lie_deg)
