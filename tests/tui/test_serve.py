"""The interface in a browser: whom it lets in, what it loads, and that it works in a real one."""

from __future__ import annotations

import asyncio
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import aiohttp
import pytest

from specdb.errors import UsageError
from specdb.tui.serve import check_exposure, is_loopback
from tests.tui.browser import BROWSER, browser

PASSWORD = "seven wedges"


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def _served(catalogue: Path, folder: Path, *words: str, **env: str) -> Iterator[str]:
    """The page served by its own process, until the block ends."""
    port = _free_port()
    command = [sys.executable, "-m", "specdb", "ui", "--serve", "--port", str(port), "--catalogue", str(catalogue)]
    state = {"XDG_STATE_HOME": str(folder / "state"), "XDG_DATA_HOME": str(folder / "data")}
    with subprocess.Popen(
        [*command, *words], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env={**os.environ, **state, **env}
    ) as process:
        try:
            for _ in range(300):
                with socket.socket() as probe:
                    if probe.connect_ex(("127.0.0.1", port)) == 0:
                        break
                time.sleep(0.1)
            yield f"http://127.0.0.1:{port}"
        finally:
            process.send_signal(signal.SIGINT)
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                raise


@pytest.mark.parametrize(
    ("host", "alone"),
    [
        *((host, True) for host in ("localhost", "127.0.0.1", "127.8.0.1", "::1", "[::1]")),
        *((host, False) for host in ("0.0.0.0", "::", "192.168.1.20", "shop.local")),
    ],
)
def test_elsewhere_than_on_loopback_a_password_is_needed(host: str, alone: bool) -> None:
    assert is_loopback(host) is alone
    check_exposure(host, PASSWORD)
    if alone:
        check_exposure(host, None)
    else:
        with pytest.raises(UsageError, match="can read and change the catalogue: give a password"):
            check_exposure(host, None)
    with pytest.raises(UsageError, match="too short"):
        check_exposure(host, "short")


def test_the_command_refuses_and_says_why() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "specdb", "ui", "--serve", "--host", "0.0.0.0"],
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert done.returncode == 2
    assert "give a password" in done.stderr
    done = subprocess.run(
        [sys.executable, "-m", "specdb", "ui", "--host", "localhost"],
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert done.returncode == 2
    assert "go with --serve" in done.stderr


def test_pages_link_nothing_outside() -> None:
    folder = Path(sys.modules["specdb.tui.serve"].__file__ or "").with_name("web")
    pages = sorted(folder.glob("*.html"))
    assert len(pages) == 2
    for page in pages:
        assert re.findall(r"(?:https?:)?//[a-z0-9.-]+\.[a-z]+", page.read_text(encoding="utf-8")) == []


def test_who_is_let_in(demo: Path, tmp_path: Path) -> None:
    async def visit(url: str) -> None:
        jar = aiohttp.CookieJar(unsafe=True)  # cookies of an address, not of a name
        async with aiohttp.ClientSession(cookie_jar=jar) as session:
            async with session.get(url) as answer:
                assert answer.url.path == "/password"
            for path in ("/ws", "/static/js/textual.js", "/download/x"):
                async with session.get(url + path, headers={"Origin": url}) as answer:
                    assert answer.status == 401
            async with session.post(f"{url}/password", data={"password": "guess"}) as answer:
                assert answer.status == 401
                assert "not the password" in await answer.text()
            async with session.post(f"{url}/password", data={"password": PASSWORD}) as answer:
                assert (answer.status, answer.url.path) == (200, "/")
                assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
            for headers in ({"Origin": "http://elsewhere.example"}, {}):
                with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
                    await session.ws_connect(f"{url}/ws", headers=headers)
                assert refused.value.status == 403
            async with session.get(url, headers={"Host": "elsewhere.example"}) as answer:
                assert answer.status == 403

    with _served(demo, tmp_path, SPECDB_SERVE_PASSWORD=PASSWORD) as url:
        asyncio.run(visit(url))


def _children(text: str) -> int:
    """Processes of the interface that run for a catalogue."""
    found = subprocess.run(["pgrep", "-fc", f"specdb ui --catalogue {text}"], capture_output=True, check=False)
    return int(found.stdout or b"0")


@pytest.mark.slow
@pytest.mark.skipif(BROWSER is None, reason="needs Chromium")
def test_in_a_real_browser(demo: Path, tmp_path: Path) -> None:
    async def visit(url: str) -> None:
        async with browser(tmp_path / "profile") as page:
            await page.open(url)
            await page.until("document.body.classList.contains('-first-byte')")
            await asyncio.sleep(3.0)
            first = await page.picture()
            (tmp_path / "catalogue.png").write_bytes(first)
            await page.click(300, 300)
            await page.press("F4", 115)
            await asyncio.sleep(3.0)
            second = await page.picture()
            assert len(first) > 20_000  # a screen full of text, no empty page
            assert first != second
            outside = [u for u in page.requested if url.removeprefix("http://") not in u and not u.startswith("data:")]
            assert outside == []
            assert any(u.startswith("ws://") for u in page.requested)
            assert _children(str(demo)) >= 1
            (tmp_path / "stand-ins.png").write_bytes(second)

    with _served(demo, tmp_path) as url:
        asyncio.run(visit(url))
        for _ in range(100):
            if _children(str(demo)) == 0:
                break
            time.sleep(0.1)
        assert _children(str(demo)) == 0  # the page closed, its process ended
