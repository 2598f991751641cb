"""Keys that come faster than the interface moves: each one is dealt with where the one before it has led.

By itself Textual sends a key to whatever has the focus when it arrives. Keys that arrive together (over a slow line, or
from a quick hand) would then all go to the old focus: the letters of a search would be taken for commands of the list.
Here the next key waits until the one before has come to its end, and until a screen that it opened is there.
"""

from __future__ import annotations

import asyncio
from collections import deque
from typing import TypeVar

from textual.app import App
from textual.dom import DOMNode
from textual.events import Event, Key

R = TypeVar("R")

_LONGEST_SECONDS = 0.5  # whatever keeps a key from its end, typing goes on


class KeysInOrder(App[R]):
    """An app that deals with one key after another."""

    def __init__(self) -> None:
        super().__init__()
        self._keys: deque[Key] = deque()
        self._dealing: asyncio.Task[None] | None = None

    async def on_event(self, event: Event) -> None:
        """Queue keys; let everything else go its way.

        Parameters
        ----------
        event : Event
            What happened.
        """
        if not isinstance(event, Key) or event.is_forwarded:
            await super().on_event(event)
            return
        self._keys.append(event)
        if self._dealing is None or self._dealing.done():
            self._dealing = asyncio.create_task(self._deal())

    async def _deal(self) -> None:
        try:
            while self._keys and self._is_up():
                event = self._keys.popleft()
                target: DOMNode = self.focused or self.screen
                before = self.screen
                await super().on_event(event)
                await self._come_to_its_end(target)
                if self._is_up() and self.screen is not before:
                    await self._come_to_its_end(self.screen)
        except Exception as error:  # noqa: BLE001 (as Textual does with what a handler raises)
            self._handle_exception(error)

    def _is_up(self) -> bool:
        return self._running and not self._closing and bool(self._screen_stacks.get(self._current_mode))

    async def _come_to_its_end(self, target: DOMNode) -> None:
        """Wait until what was sent to a widget has been dealt with by it and by all it bubbles up to."""
        over = asyncio.Event()

        def pass_on(node: DOMNode | None) -> None:
            # queues are first come, first served, so this stays behind the key all the way up
            if node is None or not node.call_later(pass_on, node.parent):
                over.set()

        pass_on(target)
        try:
            await asyncio.wait_for(over.wait(), _LONGEST_SECONDS)
        except TimeoutError:
            return
