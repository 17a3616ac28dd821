"""Broken drawings and jobs: ways to break sound ones, and what must hold of the result.

The rule: whatever a file holds, there is a clear error or a right part, within bounded
time and memory. `scripts/fuzz` tries it for as long as one likes, the tests for a moment.
"""

from __future__ import annotations

import math
import random
import re
import signal
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Final

import shapely

from hostile_seeds import seeds
from silhouette3d import Part
from silhouette3d.errors import SilhouetteError
from silhouette3d.job.model import job_from, read_job

KINDS: Final = ("dxf", "svg", "toml")

BLOCK: Final = (80.0, 40.0, 50.0)
MOST_CORNERS: Final = 400
"""Of an outline of which a solid is still made: larger ones are for the benchmarks."""

# ---- ways to break them --------------------------------------------------------------

NUMBERS: Final = (
    *("0", "-0.0", "1", "-1", "2", "3", "0.5", "1e-9", "1e-300", "5e-324", "1e6", "1000001"),
    *("1e15", "1e30", "1e300", "1e999", "-1e999", "nan", "inf", "-inf", "2147483647"),
    *("-2147483648", "4294967296", "9" * 30, "9" * 5000, "0x10", "1_000", "1,5", "", "٣", "1e"),
)
WORDS: Final = (
    *("", "\0", "..", "/dev/zero", "/etc/passwd", "front.dxf", "HULL", "STOCK", "BOLLARD", "*"),
    *("\ufeff", "\ud800", "é", "Ω" * 300, "x" * 5000, "%s%n", "#b", "url(#b)", "none", "auto"),
    *("LINE", "SPLINE", "INSERT", "HATCH", "ENDSEC", "EOF", "SECTION", "BLOCK", "true", "[]", "{}"),
    *("inherit", "100%", "5em", "9in", "M0 0", "z", "a", "C", "evenodd", "nonzero", "hidden"),
)
_NUMBER: Final = re.compile(rb"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_WORD: Final = re.compile(rb"[A-Za-z_$*#][\w$.*#-]*")


def broken(data: bytes, rng: random.Random, kind: str) -> bytes:
    """A file with one to six things changed that a reader cares about."""
    for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
        data = rng.choice((_other_number, _other_number, _other_word, _moved, _bytes))(data, rng)
    if kind == "dxf" and rng.random() < 0.15:
        data = as_binary(data)
    return data


def _replaced(data: bytes, pattern: re.Pattern[bytes], new: bytes, rng: random.Random) -> bytes:
    places = list(pattern.finditer(data))
    if not places:
        return data
    place = rng.choice(places)
    return data[: place.start()] + new + data[place.end() :]


def _other_number(data: bytes, rng: random.Random) -> bytes:
    if rng.random() < 0.5:
        new = rng.choice(NUMBERS)
    else:
        new = repr(round(rng.uniform(-60, 60) * 10.0 ** rng.choice((-3, 0, 0, 0, 2)), 6))
    return _replaced(data, _NUMBER, new.encode(), rng)


def _other_word(data: bytes, rng: random.Random) -> bytes:
    own = _WORD.findall(data)
    new = rng.choice(WORDS).encode(errors="surrogatepass")
    if own and rng.random() < 0.5:
        new = rng.choice(own)
    return _replaced(data, _WORD, new, rng)


def _moved(data: bytes, rng: random.Random) -> bytes:
    """Some lines, or elements, left out, doubled, or put elsewhere."""
    mark = b">" if b"<svg" in data and b"SECTION" not in data else b"\n"
    parts = data.split(mark)
    first = rng.randrange(len(parts))
    if mark == b"\n" and b"SECTION" in data:
        first -= first % 2  # group codes stay group codes
    piece = parts[first : first + rng.choice((1, 2, 2, 4, 8, 30))]
    match rng.randrange(4):
        case 0:
            del parts[first : first + len(piece)]
        case 1:
            parts[first:first] = piece * rng.choice((1, 1, 2, 50))
        case 2:
            del parts[first : first + len(piece)]
            at = rng.randrange(len(parts) + 1)
            parts[at:at] = piece
        case _:
            at = rng.randrange(len(parts))
            parts[at : at + len(piece)] = piece
    return mark.join(parts)


def _bytes(data: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(data) + 1)
    match rng.randrange(5):
        case 0:
            return data[:at]
        case 1:
            return data[:at] + rng.randbytes(rng.randrange(1, 5)) + data[at:]
        case 2:
            return data[:at] + data[at + rng.randrange(1, 9) :]
        case 3:
            return data[:at] + rng.randbytes(1) + data[at + 1 :]
        case _:
            return data.replace(b"\n", rng.choice((b"\r\n", b"\r", b"\n\n")))


def as_binary(data: bytes) -> bytes:
    """An ASCII DXF file as the binary one, as far as its values can be written so."""
    lines = data.decode("utf-8", "surrogateescape").split("\n")
    out = [b"AutoCAD Binary DXF\r\n\x1a\x00"]
    for code, value in zip(lines[::2], lines[1::2], strict=False):
        try:
            number = int(code)
            out.append(struct.pack("<H", number % 2**16) + _packed(number, value.strip()))
        except (ValueError, OverflowError, struct.error):
            continue
    return b"".join(out)


def _packed(code: int, value: str) -> bytes:
    if 10 <= code < 60 or 110 <= code < 150 or 210 <= code < 240:
        return struct.pack("<d", float(value))
    if 60 <= code < 80 or 170 <= code < 180 or 270 <= code < 290 or 370 <= code < 390:
        return struct.pack("<h", int(value))
    if 90 <= code < 100:
        return struct.pack("<i", int(value))
    return value.encode("utf-8", "surrogateescape") + b"\0"


# ---- what must hold --------------------------------------------------------------------


class TooSlowError(BaseException):
    """An input took more processor time than it may; no part of the program catches this."""


@contextmanager
def seconds(limit: float) -> Iterator[None]:
    """Raise `TooSlowError` after so much processor time; waiting does not count."""

    def ring(number: int, frame: FrameType | None) -> None:
        raise TooSlowError(f"more than {limit:g} s")

    before = signal.signal(signal.SIGVTALRM, ring)
    signal.setitimer(signal.ITIMER_VIRTUAL, limit)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0.0)
        signal.signal(signal.SIGVTALRM, before)


def trial(data: bytes, kind: str, folder: Path, *, thorough: bool = False) -> str:
    """Take a file the whole way, and check the part against the outlines' areas.

    Parameters
    ----------
    data : bytes
        Of the drawing, or of the job file.
    kind : {"dxf", "svg", "toml"}
        What it is.
    folder : Path
        To write it to; for a job, one that holds its drawings.
    thorough : bool
        Check and cut the part too.

    Returns
    -------
    str
        The error's text, or what was made.

    Raises
    ------
    Exception
        Whatever is not a `SilhouetteError`, and `AssertionError` for a wrong part or
        an error that says too little.
    """
    try:
        if kind == "toml":
            (folder / "job.toml").write_bytes(data)
            return _whole(Part(read_job(folder / "job.toml")), thorough)
        drawing = folder / f"drawing.{kind}"
        drawing.write_bytes(data)
        return _one(drawing, thorough)
    except SilhouetteError as error:
        told = error
    text = str(told)
    assert told.what
    assert told.where, text
    text.encode()  # half characters cannot be printed
    return text


def prepare(folder: Path) -> None:
    """The drawings that the seeds of jobs name."""
    (folder / "front.dxf").write_bytes(seeds("dxf")[3])
    (folder / "corner.svg").write_bytes(seeds("svg")[0])


def _one(drawing: Path, thorough: bool) -> str:
    """A part of one drawing, and of the same drawing seen twice."""
    profile = {"view": "front", "drawing": drawing.name, "datum": "centre"}
    data = {
        "name": "Bollard",
        "tolerance": 0.05,
        "stock": {"size": list(BLOCK), "density": 1.0},
        "profile": [profile],
    }
    path = drawing.parent / "job.toml"
    part = Part(job_from(data, path=path))
    (front,) = part.profiles
    area = front.area
    assert area.is_valid, shapely.is_valid_reason(area)
    assert math.isfinite(front.outline.area_error)
    assert front.outline.area_error >= 0.0
    corners = int(shapely.get_num_coordinates(area))
    if corners > MOST_CORNERS:
        return f"an outline of {corners} corners"
    face = shapely.box(0.0, 0.0, BLOCK[0], BLOCK[2])
    inside = shapely.intersection(area, face, grid_size=1e-9)
    expected = inside.area * BLOCK[1]
    # Walls of a perturbed copy lie up to some 1e-6 mm further in, and lids are rounded to 1e-9 mm.
    room = 1e-5 * inside.length * BLOCK[1] + 1e-3
    if expected <= room:
        return "an outline beside the stock, or of next to nothing"
    made = part.solid.volume
    assert abs(made - expected) <= room, f"{made} mm³ instead of {expected}"
    again = {"view": "right", "drawing": drawing.name, "datum": "centre", "mirror": True}
    two = Part(job_from(data | {"profile": [profile, again]}, path=path))
    assert two.solid.volume <= made + room
    if thorough:
        _ = two.findings
    return f"{made:.6g} mm³"


def _whole(part: Part, thorough: bool) -> str:
    """A part of a job, and what is worked out of it."""
    corners = sum(int(shapely.get_num_coordinates(p.area)) for p in part.profiles)
    if corners > MOST_CORNERS:
        return f"outlines of {corners} corners"
    volume = part.solid.volume
    assert 0.0 < volume <= part.stock.volume * (1.0 + 1e-9)
    assert 0.0 < part.mass < math.inf
    for stage in part.stages:
        assert stage.bodies
    if thorough:
        _ = part.findings
    return f"{volume:.6g} mm³"
