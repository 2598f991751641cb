"""What is asked on the fit-up screen, and what becomes of it when a part or a length is changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields, replace
from typing import Any

from specdb.verbs.clubs.clubs import ClubRequest

PARTS = ("shaft", "head", "adapter", "sleeve", "ferrule", "adhesive", "grip")
TRIM_STEP_IN, TRIM_FINE_IN = 0.25, 0.0625
INSERTION_STEP_IN, INSERTION_FINE_IN = 0.0625, 0.015625
_LEAST_INSERTION_IN = 0.25


def with_part(asked: ClubRequest, kind: str, key: str | None) -> ClubRequest:
    """The question with another part; what was said of the one before goes with it.

    Parameters
    ----------
    asked : ClubRequest
        The question.
    kind : str
        Kind of the part.
    key : str or None
        The part; None takes it away.
    """
    if getattr(asked, kind) == key:
        return asked
    part: dict[str, Any] = {kind: key}
    changed = replace(asked, **part)
    if kind == "shaft":
        return replace(changed, tip_trim_in=None, sleeve=None, sample=None)
    if kind == "head":
        return replace(changed, adapter=None, setting=None, insertion_in=None, loft_deg=None, lie_deg=None)
    if kind == "adapter":
        return replace(changed, setting=None, insertion_in=None)
    return changed


def with_trim(asked: ClubRequest, step_in: float) -> ClubRequest:
    """The question with more or less tip trim, on whole steps.

    Parameters
    ----------
    asked : ClubRequest
        The question.
    step_in : float
        How much more, in; negative for less.
    """
    return replace(asked, tip_trim_in=_stepped(asked.tip_trim_in or 0.0, step_in, 0.0, 12.0))


def with_insertion(asked: ClubRequest, step_in: float, full_in: float | None) -> ClubRequest:
    """The question with a deeper or shallower insertion; the full depth is written as none given.

    Parameters
    ----------
    asked : ClubRequest
        The question.
    step_in : float
        How much deeper, in; negative for shallower.
    full_in : float or None
        Depth of the bore, in; None where unknown.
    """
    now = asked.insertion_in if asked.insertion_in is not None else full_in
    if now is None:
        return asked
    deeper = _stepped(now, step_in, _LEAST_INSERTION_IN, 5.0)
    if full_in is not None and deeper >= full_in - 1e-9:
        return replace(asked, insertion_in=None)
    return replace(asked, insertion_in=deeper)


def _stepped(value: float, step: float, low: float, high: float) -> float:
    """The next whole step from a value, so that odd values come back to the marks of a rule."""
    size = abs(step)
    marks = value / size
    whole = round(marks)
    if abs(marks - whole) < 1e-6:
        marks = whole + (1 if step > 0 else -1)
    else:
        marks = int(marks) + (1 if step > 0 else 0)
    return min(max(round(marks * size, 6), low), high)


def to_memory(asked: ClubRequest) -> dict[str, Any]:
    """The question as JSON values.

    Parameters
    ----------
    asked : ClubRequest
        The question.
    """
    return {name: value for name, value in asdict(asked).items() if value is not None}


def from_memory(held: Mapping[str, Any]) -> ClubRequest:
    """The question from JSON values; what is not known is left out.

    Parameters
    ----------
    held : mapping
        From :func:`to_memory`.
    """
    known: dict[str, Any] = {}
    for field in fields(ClubRequest):
        value = held.get(field.name)
        wanted = str if "str" in str(field.type) else (int, float)
        if isinstance(value, wanted) and not isinstance(value, bool):
            known[field.name] = value
    return ClubRequest(**known)
