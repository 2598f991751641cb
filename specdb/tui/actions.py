"""The one registry of actions: what can be done where, by which key, and what it does, in words.

Key bindings, the line of keys at the bottom, the command palette and the help of a screen are all made from it. A
screen states its actions in ``ACTIONS``; they are registered under its place when its class is made. Each action runs
the method ``action_<id>`` of the screen (or of the app, for those of everywhere).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from textual.binding import Binding

EVERYWHERE = "everywhere"


@dataclass(frozen=True, slots=True)
class Action:
    """Something that can be done.

    Attributes
    ----------
    id : str
        The method ``action_<id>`` does it; may carry arguments, as ``move('used')``.
    keys : str
        Its keys, separated by commas, the one to show first; empty where only the palette offers it.
    label : str
        One or two words, for the line of keys.
    help : str
        One sentence, for the help and the palette.
    place : str
        Where it can be done; filled in by the screen.
    shown : bool
        Whether it stands in the line of keys.
    priority : bool
        Whether it works while typing in a field, too.
    """

    id: str
    keys: str
    label: str
    help: str
    place: str = EVERYWHERE
    shown: bool = True
    priority: bool = False


_REGISTRY: dict[str, dict[str, Action]] = {}

_KEY_NAMES = {
    "escape": "esc",
    "enter": "enter",
    "question_mark": "?",
    "slash": "/",
    "space": "space",
    "pageup": "pgup",
    "pagedown": "pgdn",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "left_curly_bracket": "{",
    "right_curly_bracket": "}",
    "plus": "+",
    "minus": "-",
    "equals_sign": "=",
    "comma": ",",
    "full_stop": ".",
    "less_than_sign": "<",
    "greater_than_sign": ">",
    "left": "←",
    "right": "→",
    "up": "↑",
    "down": "↓",
    "delete": "del",
}


def register(actions: Iterable[Action]) -> None:
    """Add actions to the registry; one of the same place and id takes the other's room.

    Parameters
    ----------
    actions : iterable of Action
        The actions, in the order they are to be shown.
    """
    for action in actions:
        _REGISTRY.setdefault(action.place, {})[action.id] = action


def actions_of(place: str) -> tuple[Action, ...]:
    """The actions of a place, in order, without those of everywhere.

    Parameters
    ----------
    place : str
        The place, or ``everywhere``.
    """
    return tuple(_REGISTRY.get(place, {}).values())


def bindings_of(actions: Iterable[Action]) -> list[Binding]:
    """Key bindings for actions.

    Parameters
    ----------
    actions : iterable of Action
        The actions.
    """
    return [
        Binding(a.keys, a.id, a.label, show=a.shown, tooltip=a.help, priority=a.priority, id=f"{a.place}.{a.id}")
        for a in actions
        if a.keys
    ]


def key_name(keys: str) -> str:
    """The first of some keys as a person reads it: ``esc``, ``F4``, ``^s``.

    Parameters
    ----------
    keys : str
        As in :class:`Action`.
    """
    key = keys.split(",", maxsplit=1)[0].strip()
    if key.startswith("ctrl+"):
        return f"^{key_name(key.removeprefix('ctrl+'))}"
    if key.startswith("f") and key[1:].isdigit():
        return key.upper()
    return _KEY_NAMES.get(key, key)


def all_key_names(keys: str) -> str:
    """All of some keys as a person reads them.

    Parameters
    ----------
    keys : str
        As in :class:`Action`.
    """
    return " ".join(key_name(key) for key in keys.split(","))
