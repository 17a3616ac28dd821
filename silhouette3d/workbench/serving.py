"""The web server: trame's, behind a guard, at addresses of its own."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from silhouette3d import theme
from silhouette3d.errors import WorkbenchError
from silhouette3d.workbench.guarding import HOST, Guard, guard_app

if TYPE_CHECKING:
    from aiohttp.web import Application, Request, StreamResponse

Route = tuple[str, str, Callable[["Request"], Awaitable["StreamResponse"]]]
"""Method, path after the key, and what answers."""

OWN: Final = "own"
"""Step of the path under which this package's own styles and scripts are served."""

SCRIPTS: Final = (
    "looks", "eye", "scene", "counts", "card", "strip", "block", "begin", "dialogs", "bench"
)  # fmt: skip
"""Scripts of the page, each after those it needs; all but the first are parts of the page."""

LARGEST_MESSAGE: Final = 64 * 2**20
"""Bytes of one message through the socket, either way: meshes go to the browser so."""

_ARGUMENTS: Final = "TRAME_ARGS"


def new_server() -> Any:
    """A trame server for one run, with what shows 3D in the browser."""
    from trame_client import module as client
    from trame_server import Server
    from trame_vtk.modules import common as drawing

    server = Server("silhouette3d", ws_max_msg_size=LARGEST_MESSAGE)
    server.client_type = "vue3"
    server.enable_module(client)
    server.enable_module(drawing)
    server.enable_module(
        {
            "serve": {OWN: str(static_folder())},
            "scripts": [(f"{OWN}/{name}.js", {"serial": OWN}) for name in SCRIPTS],
            "vue_use": [f"silhouette{name.capitalize()}" for name in SCRIPTS if name != "looks"],
        }
    )
    return server


def static_folder() -> Path:
    """Styles, scripts and templates of this package."""
    return Path(str(resources.files("silhouette3d.workbench") / "static"))


async def serve(
    server: Any, guard: Guard, *, port: int, routes: list[Route], ready: Callable[[int], None]
) -> None:
    """Serve until the server is stopped.

    Parameters
    ----------
    server : trame_server.Server
        Not yet started.
    guard : Guard
        Who may connect.
    port : int
        0 for any that is free.
    routes : list of Route
        What is answered besides the page and its files.
    ready : callable
        Told the port once the server listens.

    Raises
    ------
    WorkbenchError
        If the port cannot be had.
    """
    server.controller.on_server_bind.add(lambda web: _settle(web.app, server, guard, routes))
    server.controller.on_server_ready.add(lambda **_: ready(server.port))
    with _arguments(f"--ws-endpoint={guard.key}/ws --authKey={guard.secret}"):
        running = server.start(
            port=port,
            host=HOST,
            backend="aiohttp",
            exec_mode="coroutine",
            thread=True,  # signals are ours
            open_browser=False,
            show_connection_info=False,
            disable_logging=True,
            timeout=0,
        )
    try:
        await running
    except OSError as error:
        raise WorkbenchError(
            f"the port cannot be used: {error.strerror}",
            where=f"{HOST}:{port}",
            todo="give another with --port, or none for any that is free",
        ) from None


@contextmanager
def _arguments(text: str) -> Iterator[None]:
    """Trame reads this instead of the command line, which is not its own."""
    before = os.environ.get(_ARGUMENTS)
    os.environ[_ARGUMENTS] = text
    try:
        yield
    finally:
        del os.environ[_ARGUMENTS]
        if before is not None:
            os.environ[_ARGUMENTS] = before


def _settle(app: Application, server: Any, guard: Guard, routes: list[Route]) -> None:
    """Guard the application, and serve everything below the key."""
    from aiohttp import web
    from trame_client.module.vue3 import www

    guard_app(app, guard)
    home = f"/{guard.key}"
    page = page_text(guard.secret, Path(www, "index.html").read_text("utf-8"))

    async def answer_page(request: Request) -> StreamResponse:
        return web.Response(text=page, content_type="text/html")

    async def style(request: Request) -> StreamResponse:
        return web.Response(text=theme_style(), content_type="text/css")

    async def script(request: Request) -> StreamResponse:
        return web.Response(text=theme_script(), content_type="text/javascript")

    async def nothing(request: Request) -> StreamResponse:
        return web.Response(text="")

    app.add_routes(
        [
            web.get(f"{home}/", answer_page),
            web.get(f"{home}/theme.css", style),
            web.get(f"{home}/theme.js", script),
            web.get(f"{home}/loading.tpl", nothing),
            *(web.route(method, f"{home}/{path}", handler) for method, path, handler in routes),
            *(web.static(f"{home}/{name}", folder) for name, folder in server.serve.items()),
            web.static(f"{home}/assets", Path(www, "assets")),
            web.get(f"{home}/vue.global.js", lambda _: _file(Path(www, "vue.global.js"))),
        ]
    )


def theme_style() -> str:
    """Write the theme's colours of pages as a style sheet."""
    light, dark = (
        f":root{which} {{ color-scheme: {name}; {theme.css(colours)} }}\n"
        for which, name, colours in (
            ("", "light", theme.LIGHT),
            ('[data-look="dark"]', "dark", theme.DARK),
        )
    )
    return light + dark


def theme_script() -> str:
    """Write what else pages take from the theme as a script that keeps it."""
    return f"window.silhouetteTheme = {json.dumps(theme.for_browser())};\n"


async def _file(path: Path) -> StreamResponse:
    from aiohttp import web

    return web.FileResponse(path)


def page_text(secret: str, client: str) -> str:
    """The page: our own frame round the client's script and style.

    Parameters
    ----------
    secret : str
        For the socket's hello.
    client : str
        The client's own page, which names its script and style by the hash of their content.
    """
    wanted = re.findall(
        r'<script type="module"[^>]*></script>|<link rel="stylesheet"[^>]*>', client
    )
    frame = (static_folder() / "page.html").read_text("utf-8")
    return frame.replace("@secret@", secret).replace("@client@", "\n    ".join(wanted))
