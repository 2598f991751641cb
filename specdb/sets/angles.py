"""Loft, lie and face angle of a head as it is finished: its own, what the adapter's setting does, what is bent."""

from __future__ import annotations

from specdb.records.rows import AdapterSetting, Head
from specdb.sets.members import SetMember

ANGLES = ("loft", "lie", "face")
_OWN = {"loft": "loft_deg", "lie": "lie_deg", "face": "face_angle_deg"}


def with_setting(head: Head, angle: str, setting: AdapterSetting | None) -> float | None:
    """An angle of a head with an adapter's setting, before any bending, deg; None where it is unknown.

    Parameters
    ----------
    head : Head
        The head.
    angle : str
        One of ``ANGLES``.
    setting : AdapterSetting or None
        The setting; None for a glued head.
    """
    own: float | None = getattr(head, _OWN[angle])
    if own is None or setting is None:
        return own
    change: float | None = getattr(setting, f"{angle}_change_deg")
    return None if change is None else own + change


def setting_named(settings: tuple[AdapterSetting, ...], name: str | None) -> AdapterSetting | None:
    """The setting of that name.

    Parameters
    ----------
    settings : tuple of AdapterSetting
        Of one adapter.
    name : str or None
        Its name.
    """
    return next((s for s in settings if s.setting == name), None)


def finished_angles(member: SetMember) -> tuple[float | None, float | None]:
    """Loft and lie of a club as fitted: as recorded, else the head's own with its setting, deg.

    Parameters
    ----------
    member : SetMember
        The club.
    """
    setting = setting_named(member.settings, member.setting)
    return as_fitted(member.parts.head, setting, member.loft_deg, member.lie_deg)


def as_fitted(
    head: Head, setting: AdapterSetting | None, loft_deg: float | None, lie_deg: float | None
) -> tuple[float | None, float | None]:
    """Loft and lie as recorded, else the head's own with a setting, deg; None where unknown.

    Parameters
    ----------
    head : Head
        The head.
    setting : AdapterSetting or None
        The setting; None for a glued head.
    loft_deg, lie_deg : float or None
        As recorded at the fitting, deg.
    """
    loft = with_setting(head, "loft", setting) if loft_deg is None else loft_deg
    lie = with_setting(head, "lie", setting) if lie_deg is None else lie_deg
    return loft, lie
