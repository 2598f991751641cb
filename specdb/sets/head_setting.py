"""How near a head comes to the wanted loft, lie and face angle: by its adapter's setting, then by bending."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from specdb.fitup.options import COST
from specdb.fitup.report import Operation
from specdb.records.rows import Adapter, AdapterSetting, Head
from specdb.sets.angles import finished_angles, setting_named, with_setting
from specdb.sets.head_question import BEND_COST, CONNECTION_COST, FACE, LIE, LOFT, NUMBER_COST, HeadQuestion

RETIRED = "retired"


@dataclass(frozen=True, slots=True)
class Wanted:
    """Angles that are wanted, deg; None where unknown.

    Attributes
    ----------
    loft, lie, face : float or None
        Of the finished club.
    """

    loft: float | None
    lie: float | None
    face: float | None


def wanted_angles(asked: HeadQuestion) -> Wanted:
    """The angles of the fitted club, or of the head alone.

    Parameters
    ----------
    asked : HeadQuestion
        What is asked.
    """
    head, member = asked.head, asked.member
    if member is None:
        return Wanted(head.loft_deg, head.lie_deg, head.face_angle_deg)
    loft, lie = finished_angles(member)
    return Wanted(loft, lie, with_setting(head, "face", setting_named(member.settings, member.setting)))


@dataclass(frozen=True, slots=True)
class Setup:
    """A head with an adapter's setting and what is bent.

    Attributes
    ----------
    adapter : Adapter or None
        The adapter; None for a glued head.
    setting : AdapterSetting or None
        Its setting.
    finished : mapping of str to float or None
        Angles of the finished club by the key of the feature.
    bends : mapping of str to float
        Degrees to bend, by ``loft`` and ``lie``.
    refused : tuple of str
        Bending that is not done, or not as far as it would need, with the reason.
    cost : float
        In units of score.
    """

    adapter: Adapter | None
    setting: AdapterSetting | None
    finished: dict[str, float | None]
    bends: dict[str, float]
    refused: tuple[str, ...]
    cost: float


def setups(asked: HeadQuestion, head: Head, wanted: Wanted) -> list[Setup]:
    """Every way of setting a head up.

    Parameters
    ----------
    asked : HeadQuestion
        What is asked.
    head : Head
        The head that would stand in.
    wanted : Wanted
        The angles that are wanted.
    """
    return [_setup(asked, head, wanted, adapter, setting) for adapter, setting in _places(asked, head)]


def _places(asked: HeadQuestion, head: Head) -> Iterator[tuple[Adapter | None, AdapterSetting | None]]:
    """Adapters and settings that go on a head; once ``(None, None)`` for a glued one."""
    if not head.connection:
        yield None, None
        return
    for adapter in asked.shelf.adapters:
        goes_on = adapter.connection == head.connection and adapter.hand in (None, "either", head.hand)
        if adapter.status == RETIRED or not goes_on:
            continue
        settings = asked.shelf.settings_by_adapter.get(adapter.id, ())
        if not settings:
            yield adapter, None
        for setting in settings:
            yield adapter, setting


def _setup(
    asked: HeadQuestion, head: Head, wanted: Wanted, adapter: Adapter | None, setting: AdapterSetting | None
) -> Setup:
    finished: dict[str, float | None] = {FACE.key: with_setting(head, "face", setting)}
    bends: dict[str, float] = {}
    refused: list[str] = []
    for feature, name, target in ((LOFT, "loft", wanted.loft), (LIE, "lie", wanted.lie)):
        own = with_setting(head, name, setting)
        finished[feature.key] = own
        if own is None or target is None or abs(target - own) <= asked.limits.no_bend_deg:
            continue
        need = target - own
        by, why = _bent_by(head, need)
        if by:
            bends[name] = by
            finished[feature.key] = own + by
        if why:
            refused.append(f"{name} would need {need:+.1f}° of bending: {why}")
    cost = BEND_COST * sum(abs(b) for b in bends.values())
    fitted = None if asked.member is None else asked.member.parts.adapter
    if adapter is not None and (fitted is None or adapter.id != fitted.id):
        cost += COST[Operation.OTHER_ADAPTER]
    if bool(head.connection) != bool(asked.head.connection):
        cost += CONNECTION_COST
    if head.number and asked.head.number and head.number != asked.head.number:
        cost += NUMBER_COST
    return Setup(adapter, setting, finished, bends, tuple(refused), cost)


def _bent_by(head: Head, need: float) -> tuple[float, str]:
    """How far a head is bent towards what is needed, and why no further; as far as it allows."""
    most = head.max_bend_deg
    if most is None:
        return 0.0, "how far it may be bent is unknown, so it is not bent; ask its maker"
    if most <= 0:
        return 0.0, "it must not be bent"
    if abs(need) <= most + 1e-9:
        return need, ""
    return math.copysign(most, need), f"it allows {most:g}°"
