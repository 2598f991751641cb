"""The interface in a browser, for a tablet at the bench: one process of the interface for each page that is open.

It listens on loopback unless told otherwise. Elsewhere it wants a password, as whoever reaches the page can read and
change the catalogue. Pages load nothing from outside, and take commands only from pages of their own.
"""

from __future__ import annotations

import asyncio
import hmac
import ipaddress
import secrets
import shlex
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import aiohttp_jinja2
from aiohttp import web
from aiohttp.typedefs import Middleware
from textual_serve.server import Server

from specdb.errors import UsageError

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

SHORTEST_PASSWORD = 8
_COOKIE = "specdb_page"
_WRONG_SECONDS = 1.0  # how long a wrong password is left waiting
_POLICY = (
    "default-src 'none'; script-src 'self' 'unsafe-inline' 'wasm-unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "font-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'"
)


def is_loopback(host: str) -> bool:
    """Whether a host can be reached from this machine alone.

    Parameters
    ----------
    host : str
        Name or address.
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def check_exposure(host: str, password: str | None) -> None:
    """Refuse to listen where others can reach it without a password.

    Parameters
    ----------
    host : str
        Name or address to listen on.
    password : str or None
        The password asked of whoever opens a page.

    Raises
    ------
    UsageError
        If it is refused; the sentence says why and what to do.
    """
    if password is not None and len(password) < SHORTEST_PASSWORD:
        raise UsageError(f"the password is too short: {SHORTEST_PASSWORD} characters or more are needed")
    if password is None and not is_loopback(host):
        raise UsageError(
            f"{host} can be reached by other machines, and whoever opens the page can read and change the catalogue: "
            "give a password (--password-file FILE, or the variable SPECDB_SERVE_PASSWORD), or leave --host away to "
            "listen on this machine alone"
        )


class PageServer(Server):
    """Serves the interface of one catalogue.

    Parameters
    ----------
    catalogue : Path
        The catalogue.
    host : str
        Name or address to listen on.
    port : int
        Port.
    password : str or None
        The password; None only on loopback.
    tell : callable
        Told where it listens, once it does.

    Raises
    ------
    UsageError
        If it would be open to others without a password.
    """

    def __init__(
        self, catalogue: Path, host: str, port: int, password: str | None, tell: Callable[[str], None] = print
    ) -> None:
        check_exposure(host, password)
        command = shlex.join([sys.executable, "-m", "specdb", "ui", "--catalogue", str(catalogue.resolve())])
        super().__init__(
            command,
            host=host,
            port=port,
            title=f"specdb: {catalogue.name}",
            templates_path=str(Path(__file__).with_name("web")),
        )
        self._password = password
        self._pages: set[str] = set()
        self._tell = tell

    def initialize_logging(self) -> None:
        """Nothing is logged but what goes wrong."""

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        app.middlewares.append(self._guarded())
        app.router.add_get("/password", self._ask)
        app.router.add_post("/password", self._answer)
        return app

    async def on_startup(self, app: web.Application) -> None:  # noqa: ARG002 (as the base class has it)
        """Tell where it listens."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        self._tell(f"The interface is at http://{host}:{self.port} until ctrl+c ends it.")
        if self._password is not None:
            self._tell("The connection is not encrypted: use it on a network of your own, or through a tunnel.")

    def _guarded(self) -> Middleware:
        @web.middleware
        async def guard(request: web.Request, handler: Handler) -> web.StreamResponse:
            if not self._own_host(request):
                raise web.HTTPForbidden(text="This page is served under another name.")
            if not _own_origin(request):
                raise web.HTTPForbidden(text="Only pages of specdb itself may do that.")
            if self._password is not None and request.path != "/password" and not self._is_let_in(request):
                if request.path == "/":
                    raise web.HTTPSeeOther("/password")
                raise web.HTTPUnauthorized(text="The password is wanted first.")
            response = await handler(request)
            if not response.prepared:
                response.headers["Content-Security-Policy"] = _POLICY
                response.headers["X-Content-Type-Options"] = "nosniff"
                response.headers["Referrer-Policy"] = "no-referrer"
                response.headers["Cache-Control"] = "no-store"
            return response

        return guard

    def _own_host(self, request: web.Request) -> bool:
        """On loopback only loopback names are answered, so that no other site's name can point here."""
        return not is_loopback(self.host) or is_loopback(urlsplit(f"//{request.host}").hostname or "")

    def _is_let_in(self, request: web.Request) -> bool:
        shown = request.cookies.get(_COOKIE, "")
        return any(hmac.compare_digest(shown, known) for known in self._pages)

    async def _ask(self, request: web.Request) -> web.StreamResponse:
        return self._page(request, wrong=False)

    async def _answer(self, request: web.Request) -> web.StreamResponse:
        given = str((await request.post()).get("password", ""))
        expected = self._password or ""
        if not expected or not hmac.compare_digest(given.encode(), expected.encode()):
            await asyncio.sleep(_WRONG_SECONDS)
            response = self._page(request, wrong=True)
            response.set_status(401)
            return response
        page = secrets.token_urlsafe(32)
        self._pages.add(page)
        entered = web.HTTPSeeOther("/")
        entered.set_cookie(_COOKIE, page, httponly=True, samesite="Strict", path="/")
        raise entered

    def _page(self, request: web.Request, *, wrong: bool) -> web.Response:
        return aiohttp_jinja2.render_template("password.html", request, {"name": self.title, "wrong": wrong})

    @aiohttp_jinja2.template("app_index.html")
    async def handle_index(self, request: web.Request) -> dict[str, Any]:
        """The page; it connects back to whatever name it was opened under.

        Parameters
        ----------
        request : aiohttp.web.Request
            The request.
        """
        size = request.query.get("fontsize", "")
        return {
            "font_size": int(size) if size.isdigit() and 8 <= int(size) <= 48 else 16,
            "app_websocket_url": f"ws://{request.host}/ws",
            "config": {"static": {"url": "/static/"}},
            "application": {"name": self.title},
        }


def _own_origin(request: web.Request) -> bool:
    """Whether a request that changes or drives something comes from a page of this server."""
    origin = request.headers.get("Origin")
    if origin is None:
        return request.path != "/ws"  # a browser always names the page that opens a socket
    return urlsplit(origin).netloc == request.host


def serve(catalogue: Path, *, host: str, port: int, password: str | None, tell: Callable[[str], None] = print) -> None:
    """Serve the interface until it is ended.

    Parameters
    ----------
    catalogue : Path
        The catalogue.
    host : str
        Name or address to listen on.
    port : int
        Port.
    password : str or None
        The password; None only on loopback.
    tell : callable
        Told where it listens.

    Raises
    ------
    UsageError
        If it would be open to others without a password, or cannot listen there.
    """
    server = PageServer(catalogue, host, port, password, tell)
    try:
        asyncio.set_event_loop(asyncio.new_event_loop())
        server.serve()
    except OSError as error:
        raise UsageError(f"cannot listen on {host}, port {port}: {error.strerror or error}") from error
