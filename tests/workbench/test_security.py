"""The workbench answers its own page only: raw clients without key, with a foreign origin, …"""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import urlsplit

import aiohttp
import pytest
from aiohttp import web
from aiohttp.test_utils import TestClient, TestServer
from wslink.chunking import generate_chunks

from silhouette3d.workbench.folder import MOST_BYTES
from silhouette3d.workbench.security import Guard, guard_app, origin
from silhouette3d.workbench.server import page_text
from tests.support.workbench_running import Running, copy_of, started

GUARD = Guard()
T = TypeVar("T")


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    folder = copy_of("lighthouse", tmp_path_factory.mktemp("guarded"))
    (folder.parent / "outside.txt").write_text("not to be read")
    (folder / "leads-out.dxf").symlink_to(folder.parent / "outside.txt")
    with started(folder, ".") as one:
        yield one


def run(talk: Coroutine[Any, Any, T]) -> T:
    """In a thread of its own: the browser of other tests has a loop running in this one."""
    with ThreadPoolExecutor(1) as threads:
        return threads.submit(asyncio.run, talk).result()


def answer(
    path: str, headers: dict[str, str] | None = None, method: str = "GET", **more: Any
) -> tuple[int, str, dict[str, str]]:
    """What a guarded application with one page answers; {key} and {origin} are filled in."""

    async def talk() -> tuple[int, str, dict[str, str]]:
        app = web.Application()

        async def inside(request: web.Request) -> web.Response:
            return web.Response(text="inside")

        app.router.add_route("*", f"/{GUARD.key}/page", inside)
        guard_app(app, GUARD)
        async with TestClient(TestServer(app, host="127.0.0.1")) as client:
            here = origin(client.port or 0)
            filled = {k: v.replace("{origin}", here) for k, v in (headers or {}).items()}
            got = await client.request(method, path.format(key=GUARD.key), headers=filled, **more)
            return got.status, await got.text(), dict(got.headers)

    return run(talk())


def test_with_the_key_a_page_is_answered() -> None:
    status, text, headers = answer("/{key}/page")
    assert (status, text) == (200, "inside")
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
    assert headers["Referrer-Policy"] == "no-referrer"


@pytest.mark.parametrize("path", ["/", "/page", "/wrong/page", "/{key}x/page", "/nothing-here"])
def test_without_the_key_nothing_is(path: str) -> None:
    status, text, headers = answer(path)
    assert status == 403
    assert "key" in text
    assert GUARD.key not in text
    assert "default-src 'none'" in headers["Content-Security-Policy"]


@pytest.mark.parametrize("came_from", ["http://evil.example", "null", "http://127.0.0.1:1", ""])
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_foreign_origin_is_refused_even_with_the_key(came_from: str, method: str) -> None:
    status, text, _ = answer("/{key}/page", {"Origin": came_from}, method)
    assert status == 403
    assert "origin" in text


def test_who_sends_must_say_from_where() -> None:
    assert answer("/{key}/page", method="POST")[0] == 403
    assert answer("/{key}/page", {"Upgrade": "websocket"})[0] == 403
    assert answer("/{key}/page", {"Origin": "{origin}"}, "POST")[0] == 200


def test_a_false_name_of_this_machine_is_refused() -> None:
    """As a page elsewhere would use after its own name was made to point here."""
    status, text, _ = answer("/{key}/page", {"Host": "evil.example"})
    assert status == 403
    assert "127.0.0.1" in text


def test_each_run_has_keys_of_its_own() -> None:
    keys = {one for _ in range(50) for guard in [Guard()] for one in (guard.key, guard.secret)}
    assert len(keys) == 100
    assert min(len(key) for key in keys) >= 64  # 256 bits, as hexadecimal digits
    assert GUARD.key not in repr(GUARD)
    assert GUARD.secret not in repr(GUARD)


def test_the_page_names_the_client_and_nothing_elsewhere() -> None:
    text = page_text(
        "s3cret",
        '<script type="module" crossorigin src="./assets/i.js"></script>'
        '<link rel="stylesheet" href="./assets/i.css"><title>other</title>',
    )
    assert 'src="./assets/i.js"' in text
    assert 'href="./assets/i.css"' in text
    assert "s3cret" in text
    assert "other" not in text
    assert "//" not in text.replace("</", "")


# The whole server, as it is started.


def connect(running: Running, path: str, headers: dict[str, str], secret: str = "") -> object:
    """Open the socket and say hello: the status of the refusal, or the answer."""

    async def talk() -> object:
        url = running.origin.replace("http", "ws") + path
        async with aiohttp.ClientSession() as session:
            try:
                async with session.ws_connect(url, headers=headers) as socket:
                    hello = {
                        "wslink": "1.0",
                        "id": "system:c0:0",
                        "method": "wslink.hello",
                        "args": [{"secret": secret}],
                        "kwargs": {},
                    }
                    import msgpack

                    for piece in generate_chunks(msgpack.packb(hello), 2**20):
                        await socket.send_bytes(piece)
                    got = await socket.receive(timeout=30)
                    return b"Authentication failed" in got.data
            except aiohttp.WSServerHandshakeError as error:
                return error.status

    return run(talk())


def test_sockets_need_key_origin_and_secret(running: Running) -> None:
    home = urlsplit(running.address).path
    own = {"Origin": running.origin}
    assert connect(running, "/ws", own) == 403
    assert connect(running, f"{home[:-2]}x/ws", own) == 403
    assert connect(running, f"{home}ws", {"Origin": "http://evil.example"}) == 403
    assert connect(running, f"{home}ws", {}) == 403
    assert connect(running, f"{home}ws", own, "wslink-secret") is True
    assert connect(running, f"{home}ws", own, secret_of(running)) is False


def secret_of(running: Running) -> str:
    status, text = fetch(running, "")
    assert status == 200
    return text.split('data-secret="')[1].split('"')[0]


def fetch(running: Running, path: str, method: str = "GET", **more: Any) -> tuple[int, str]:
    async def talk() -> tuple[int, str]:
        async with aiohttp.ClientSession() as session:
            import yarl

            url = yarl.URL(running.address + path, encoded=True)
            headers = {"Origin": running.origin}
            async with session.request(method, url, headers=headers, **more) as got:
                return got.status, await got.text("utf-8", "replace")

    return run(talk())


def test_it_listens_on_this_machine_only(running: Running) -> None:
    port = urlsplit(running.address).port
    with socket.socket() as probe:
        probe.settimeout(5)
        with pytest.raises(OSError, match=r"refused|unreachable|timed out"):
            probe.connect((other_address(), port))


def other_address() -> str:
    """An address of this machine that is not 127.0.0.1; all of 127/8 is this machine."""
    return "127.0.0.2"


@pytest.mark.parametrize(
    "path",
    [
        "files/%2e%2e%2foutside.txt",
        "files/..%2foutside.txt",
        "files/leads-out.dxf",
        "files/%2fetc%2fpasswd",
        "own/..%2f..%2fapp.py",
        "own/../../app.py",
    ],
)
def test_nothing_outside_the_folder_is_read(running: Running, path: str) -> None:
    status, text = fetch(running, path)
    assert status in {403, 404}
    assert "not to be read" not in text
    assert "def run" not in text


def test_what_lies_in_the_folder_is_handed_out(running: Running) -> None:
    status, text = fetch(running, "files/job.toml")
    assert (status, text) == (200, (running.folder / "job.toml").read_text("utf-8"))


def test_uploads_are_limited(running: Running) -> None:
    outline = (running.folder / "front.svg").read_bytes()
    assert fetch(running, "drawings/new.dxf", "POST", data=outline)[0] == 200
    assert (running.folder / "new.dxf").read_bytes() == outline
    assert '"stored": null' in fetch(running, "drawings/new.dxf", "POST", data=b"other")[1]
    assert (running.folder / "new.dxf").read_bytes() == outline
    for name in ("..%2fup.dxf", "program.py", ".hidden.dxf"):
        status, text = fetch(running, f"drawings/{name}", "POST", data=outline)
        assert (status, '"stored": null' in text) == (200, True), text
    status, text = fetch(running, "drawings/big.dxf", "POST", data=BytesIO(b" " * (MOST_BYTES + 1)))
    assert status == 413
    assert "MB" in text
    assert not (running.folder / "big.dxf").exists()
    assert not (running.folder.parent / "up.dxf").exists()


def test_uploads_without_a_length_are_limited_too(running: Running) -> None:
    async def endless() -> Any:
        for _ in range(MOST_BYTES // 2**20 + 2):
            yield b" " * 2**20

    assert fetch(running, "drawings/long.dxf", "POST", data=endless())[0] == 413
    assert not (running.folder / "long.dxf").exists()


def test_a_port_in_use_is_told(running: Running, tmp_path: Path) -> None:
    import subprocess
    import sys

    from tests.support.workbench_running import environment

    port = urlsplit(running.address).port
    done = subprocess.run(
        [sys.executable, "-m", "silhouette3d", "open", "--port", str(port), "--no-browser"],
        cwd=tmp_path,
        env=environment(),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 2
    assert f"127.0.0.1:{port}" in done.stderr
    assert "--port" in done.stderr
    assert "Traceback" not in done.stderr
