"""Security: only this machine's own browser, with this run's key, may talk to the workbench.

The key is the first step of every path, so it goes into no cookie (which a
browser sends to every port of the machine) and no page elsewhere can guess an
address that answers. Against pages that are led here by a false name (DNS
rebinding) the Host is compared; against pages that know the address, the Origin
(RFC 6454; the handshake of RFC 6455, section 10.2).
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from aiohttp.web import Request, StreamResponse

    Handler = Callable[[Request], Awaitable[StreamResponse]]

HOST: Final = "127.0.0.1"

_READING: Final = frozenset({"GET", "HEAD"})


@dataclass(frozen=True)
class Guard:
    """The keys of one run, and what they let through.

    Parameters
    ----------
    key : str
        First step of every path; small letters only, to which the client turns addresses.
    secret : str
        Asked for once more when a socket says hello; it stands on the page only.
    """

    key: str = field(default_factory=lambda: secrets.token_hex(32), repr=False)
    secret: str = field(default_factory=lambda: secrets.token_hex(32), repr=False)

    def address(self, port: int) -> str:
        """Write the address where the workbench of this run is opened."""
        return f"{origin(port)}/{self.key}/"

    def refusal(self, request: Request) -> str | None:
        """Tell why a request is not answered; None if it is."""
        port = _port(request)
        step = request.path.split("/")[1]
        if not hmac.compare_digest(step.encode(), self.key.encode()):
            return "The key of this run is missing: open the address that the terminal shows."
        if request.headers.getall("Host", []) != [f"{HOST}:{port}"]:
            return f"This is answered at {origin(port)} only."
        came_from = request.headers.getall("Origin", [])
        must_say = request.method not in _READING or "Upgrade" in request.headers
        if came_from not in ([origin(port)], *([] if must_say else [[]])):
            return "A page of another origin may not use the workbench."
        return None


def origin(port: int) -> str:
    """Name the one origin that may connect."""
    return f"http://{HOST}:{port}"


def guard_app(app: object, guard: Guard) -> None:
    """Put a guard before everything that a web application serves.

    Parameters
    ----------
    app : aiohttp.web.Application
        Not yet started.
    guard : Guard
        Asked for every request, whether there is such a page or not.
    """
    from aiohttp import web

    assert isinstance(app, web.Application)

    @web.middleware
    async def ask(request: Request, handler: Handler) -> StreamResponse:
        refused = guard.refusal(request)
        if refused is not None:
            return web.Response(status=403, text=refused + "\n")
        return await handler(request)

    async def add_headers(request: Request, response: StreamResponse) -> None:
        response.headers.update(headers(_port(request)))

    app.middlewares.insert(0, ask)
    app.on_response_prepare.append(add_headers)


def headers(port: int) -> dict[str, str]:
    """Tell the browser with every answer: nothing from elsewhere, and in nobody's frame.

    ``unsafe-eval`` is what Vue needs to compile templates in the browser, inline
    styles are what VTK sets on its canvas.
    """
    socket = f"ws://{HOST}:{port}"
    return {
        "Content-Security-Policy": "; ".join(
            (
                "default-src 'none'",
                "script-src 'self' 'unsafe-eval'",
                "style-src 'self' 'unsafe-inline'",
                "img-src 'self' data: blob:",
                f"connect-src 'self' {socket}",
                "base-uri 'self'",
                "form-action 'none'",
                "frame-ancestors 'none'",
            )
        ),
        "X-Frame-Options": "DENY",
        "X-Content-Type-Options": "nosniff",
        "Referrer-Policy": "no-referrer",
        "Cross-Origin-Opener-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Cache-Control": "no-store",
    }


def _port(request: Request) -> int:
    """Read the port of this end of the connection."""
    transport = request.transport
    name = transport.get_extra_info("sockname") if transport is not None else None
    return int(name[1]) if name else 0
