"""The workbench as it runs: one job, one web server on this machine, one key."""

from __future__ import annotations

import asyncio
import json
import os
import re
import signal
import webbrowser
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager, suppress
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from silhouette3d.errors import WorkbenchError
from silhouette3d.presentation import theme
from silhouette3d.workbench.folder import check_size
from silhouette3d.workbench.requests import answers
from silhouette3d.workbench.security import HOST, Guard, guard_app
from silhouette3d.workbench.session import Session
from silhouette3d.workbench.view_model import Bench, soon

if TYPE_CHECKING:
    from aiohttp.web import Application, Request, StreamResponse

# --- The web server: trame's, behind a guard, at addresses of its own


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
    """Make a trame server for one run, with what shows 3D in the browser."""
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
    """Find the styles, scripts and templates of this package."""
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
    """Let trame read this instead of the command line, which is not its own."""
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
    """Write the page: our own frame round the client's script and style.

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


# --- The workbench as it runs: one job, one web server on this machine, one key


TEMPLATE: Final = "<silhouette-bench></silhouette-bench>"
"""All of the page is one component of our own; it reads the state by itself."""

ENDED: Final = """<main class="begin" role="alert"><h1>The workbench has ended</h1>
<p>It was stopped, or this page lost it. Start it again with <code>silhouette3d open</code>, and
open the address that it shows. Unsaved changes of this page are lost.</p></main>"""

PIECE: Final = 64 * 1024
"""Bytes of an upload that are read at a time."""


def run(
    job: Path | None, *, port: int = 0, browser: bool = True, say: Callable[[str], None]
) -> None:
    """Serve the workbench until Ctrl-C or a signal to end.

    Parameters
    ----------
    job : Path or None
        A job file or a folder; None for an empty start in the present folder.
    port : int
        Where to listen; 0 for any that is free.
    browser : bool
        Whether to open the browser.
    say : callable
        Told the address.

    Raises
    ------
    WorkbenchError
        If there is no such folder, or the port cannot be had.
    """
    asyncio.run(_run(job, port, browser, say))


async def _run(job: Path | None, port: int, browser: bool, say: Callable[[str], None]) -> None:
    loop = asyncio.get_running_loop()
    post = soon(loop)
    session = Session(Path.cwd(), post) if job is None else Session.of(job, post)
    server, guard = new_server(), Guard()
    bench = Bench(session, server, post)
    loop.set_exception_handler(lambda _, context: _tell(bench, context))
    for name, answer in answers(bench).items():
        server.trigger(name)(answer)
    server.state.trame__title = "silhouette3d"
    server.state.trame__template_main = TEMPLATE
    server.state.trame__template_error = ENDED

    def ready(got: int) -> None:
        address = guard.address(got)
        say(address)
        if browser:
            loop.run_in_executor(None, webbrowser.open, address)

    ends: list[asyncio.Task[None]] = []

    def end() -> None:
        if not ends:
            ends.append(loop.create_task(server.stop()))

    for one in (signal.SIGINT, signal.SIGTERM):
        with suppress(NotImplementedError):  # Windows: Ctrl-C arrives as KeyboardInterrupt
            loop.add_signal_handler(one, end)
    try:
        await serve(server, guard, port=port, routes=_routes(bench), ready=ready)
        await asyncio.gather(*ends)
    finally:
        bench.stop()


def _tell(bench: Bench, context: dict[str, Any]) -> None:
    """Tell on the page what nobody else has caught, unless that is what has gone."""
    error = context.get("exception")
    if isinstance(error, Exception) and not isinstance(error, ConnectionError):
        bench.complain(error)


def _routes(bench: Bench) -> list[Route]:
    """List what the page fetches and sends without the socket: files."""
    from aiohttp import web

    session = bench.session

    async def take(request: Request) -> StreamResponse:
        name = request.match_info["name"]
        try:
            data = await _body(request, name)
        except WorkbenchError as error:
            bench.complain(error)
            return web.json_response({"stored": None, "error": str(error)}, status=413)
        stored = session.uploads.upload(name, data, replace=request.query.get("replace") == "yes")
        if stored is None:
            return web.json_response({"stored": None, "error": str(session.trouble)})
        bench.show_all()
        return web.json_response({"stored": stored})

    async def hand_out(request: Request) -> StreamResponse:
        name = request.match_info["name"]
        try:
            path = session.folder.inside(name)
        except WorkbenchError as error:
            return web.Response(status=403, text=str(error))
        if not path.is_file():
            return web.Response(status=404, text="There is no such file.\n")
        shown = f"attachment; filename*=UTF-8''{quote(path.name)}"
        return web.FileResponse(path, headers={"Content-Disposition": shown})

    return [("POST", "drawings/{name}", take), ("GET", "files/{name}", hand_out)]


async def _body(request: Request, name: str) -> bytes:
    """Read what is sent, refused as soon as it is known to be too large."""
    check_size(request.content_length or 0, name)
    data = bytearray()
    async for piece in request.content.iter_chunked(PIECE):
        data += piece
        check_size(len(data), name)
    return bytes(data)
