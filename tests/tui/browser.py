"""A headless browser, driven over its own debugging protocol; only what the tests of the served page need.

Reference: Chrome DevTools Protocol (https://chromedevtools.github.io/devtools-protocol/).
"""

from __future__ import annotations

import asyncio
import base64
import itertools
import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
_FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--disable-dev-shm-usage",
    "--remote-debugging-port=0", "--window-size=1000,700",
)  # fmt: skip


class Page:
    """One tab."""

    def __init__(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        self._socket = socket
        self._numbers = itertools.count(1)
        self._waiting: dict[int, asyncio.Future[dict[str, Any]]] = {}
        self.requested: list[str] = []

    async def listen(self) -> None:
        """Take what the browser says until it closes."""
        async for message in self._socket:
            said = message.json()
            if said.get("method") == "Network.requestWillBeSent":
                self.requested.append(said["params"]["request"]["url"])
            if said.get("method") == "Network.webSocketCreated":
                self.requested.append(said["params"]["url"])
            waiting = self._waiting.pop(said.get("id", 0), None)
            if waiting is not None and not waiting.done():
                waiting.set_result(said)

    async def ask(self, method: str, **params: Any) -> dict[str, Any]:
        """Send a command and wait for its answer."""
        number = next(self._numbers)
        self._waiting[number] = asyncio.get_running_loop().create_future()
        await self._socket.send_json({"id": number, "method": method, "params": params})
        answer = await asyncio.wait_for(self._waiting[number], 20)
        assert "error" not in answer, answer
        found: dict[str, Any] = answer["result"]
        return found

    async def open(self, url: str) -> None:
        """Go to a page."""
        await self.ask("Network.enable")
        await self.ask("Page.enable")
        await self.ask("Page.navigate", url=url)

    async def value(self, expression: str) -> Any:
        """Value of an expression on the page."""
        return (await self.ask("Runtime.evaluate", expression=expression, returnByValue=True))["result"].get("value")

    async def until(self, expression: str, seconds: float = 20.0) -> None:
        """Wait until an expression is true."""
        for _ in range(int(seconds / 0.1)):
            if await self.value(expression):
                return
            await asyncio.sleep(0.1)
        raise AssertionError(f"{expression} did not become true")

    async def press(self, key: str, code: int, text: str = "") -> None:
        """Press and release a key."""
        for kind in ("keyDown", "keyUp"):
            more = {"text": text} if text and kind == "keyDown" else {}
            await self.ask("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code, **more)

    async def click(self, x: int, y: int) -> None:
        """Click at a place."""
        for kind in ("mousePressed", "mouseReleased"):
            await self.ask("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    async def picture(self) -> bytes:
        """PNG of what is shown."""
        return base64.b64decode((await self.ask("Page.captureScreenshot", format="png"))["data"])


@asynccontextmanager
async def browser(folder: Path) -> AsyncIterator[Page]:
    """A browser with one empty tab."""
    assert BROWSER is not None
    process = await asyncio.create_subprocess_exec(
        BROWSER, *_FLAGS, f"--user-data-dir={folder}", "about:blank",
        stdout=asyncio.subprocess.DEVNULL, stderr=asyncio.subprocess.DEVNULL,
    )  # fmt: skip
    try:
        told = folder / "DevToolsActivePort"
        for _ in range(300):
            if told.exists() and len(told.read_text(encoding="utf-8").splitlines()) == 2:
                break
            await asyncio.sleep(0.1)
        port = told.read_text(encoding="utf-8").splitlines()[0]
        async with aiohttp.ClientSession() as session:
            async with session.get(f"http://127.0.0.1:{port}/json/list") as answer:
                tabs = await answer.json()
            tab = next(t for t in tabs if t["type"] == "page")
            async with session.ws_connect(tab["webSocketDebuggerUrl"], max_msg_size=0) as socket:
                page = Page(socket)
                listening = asyncio.create_task(page.listen())
                yield page
                listening.cancel()
    finally:
        process.terminate()
        await process.wait()
