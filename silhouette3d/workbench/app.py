"""The workbench as it runs: one job, one web server on this machine, one key."""

from __future__ import annotations

import asyncio
import signal
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from silhouette3d.errors import WorkbenchError
from silhouette3d.workbench.bench import Bench, soon
from silhouette3d.workbench.folder import check_size
from silhouette3d.workbench.guarding import Guard
from silhouette3d.workbench.serving import Route, new_server, serve
from silhouette3d.workbench.session import Session
from silhouette3d.workbench.triggers import answers

if TYPE_CHECKING:
    from aiohttp.web import Request, StreamResponse

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
    """What nobody else has caught is told on the page, unless that is what has gone."""
    error = context.get("exception")
    if isinstance(error, Exception) and not isinstance(error, ConnectionError):
        bench.complain(error)


def _routes(bench: Bench) -> list[Route]:
    """What the page fetches and sends without the socket: files."""
    from aiohttp import web

    session = bench.session

    async def take(request: Request) -> StreamResponse:
        name = request.match_info["name"]
        try:
            data = await _body(request, name)
        except WorkbenchError as error:
            bench.complain(error)
            return web.json_response({"stored": None, "error": str(error)}, status=413)
        stored = session.upload(name, data, replace=request.query.get("replace") == "yes")
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
    """What is sent, refused as soon as it is known to be too large."""
    check_size(request.content_length or 0, name)
    data = bytearray()
    async for piece in request.content.iter_chunked(PIECE):
        data += piece
        check_size(len(data), name)
    return bytes(data)
