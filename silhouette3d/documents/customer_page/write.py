"""The page put together from its template, and written whole or not at all."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from importlib.resources import files
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, Final

from silhouette3d.base.files import atomic_write, one_line
from silhouette3d.base.quantities import size_text
from silhouette3d.documents.customer_page.facts import (
    check_scale,
    facts_of,
    note_of,
    scale_text,
    views_svg,
)
from silhouette3d.documents.customer_page.numbers import HELD, LOOSE, look_of, scene_data
from silhouette3d.documents.pictures.render import CameraFrame, Studio, Style
from silhouette3d.errors import OutputError
from silhouette3d.presentation.theme import AMBIENT, DARK, ISO, LIGHT, LIGHTS, css

if TYPE_CHECKING:
    from silhouette3d.model.results import Results

# --- three.js, kept in this package as its makers published it
#
# ``three/`` holds two files of the npm package three 0.149.0, unchanged: its script for
# pages, which defines the global name ``THREE``, and its licence. That is the last release
# whose script for pages does not complain, whenever it runs, that it will be given up; later
# ones come as modules in several files, which one page that loads nothing cannot hold as they
# are.


RELEASE: Final = "three 0.149.0"
"""Name and number of the npm package, whose archive has this digest in the npm registry:
sha512-tohpUxPDht0qExRLDTM8sjRLc5d9STURNrdnK3w9A+V4pxaTBfKWWT/IqtiLfg23Vfc3Z+ImNfvRw1/0CtxrkQ==
"""


@dataclass(frozen=True)
class Library:
    """A script with its licence, both as they were published."""

    script: str
    licence: str


def three() -> Library:
    """Read the script of three.js and its licence."""
    folder = files(__package__) / "three"
    script = (folder / "three.min.js").read_text(encoding="utf-8")
    return Library(script, (folder / "LICENSE").read_text(encoding="utf-8").strip())


# --- The page put together from its template, and written whole or not at all


SUFFIXES: Final = (".html", ".htm")
STILL: Final = (1000, 750)
"""Pixels of the picture that stands where there is no 3D."""

_WITHIN_SIZE: Final = re.compile(r" (?=×)|(?<=×) |(?<=\d) (?=mm|in\b)")
_SLOT: Final = re.compile(r"\{\{(\w+)\}\}")


def write_page(
    part: Results, path: str | os.PathLike[str], scale: float = 1.0, stages: bool = False
) -> None:
    """Write one HTML file with the part in 3D, its facts and three views.

    It needs no network and names nothing of this machine.

    Parameters
    ----------
    part : Results
        What to show.
    path : str or path-like
        A ``.html`` file.
    scale : float
        Of a mock-up that goes with the page; sizes and weight stay those of the
        finished part, and the mock-up's size is told beside them.
    stages : bool
        Also show the block after every cut, its bodies pulled apart.

    Raises
    ------
    OutputError
        If the file cannot be written, or the scale makes no sense.
    PictureError
        If this machine cannot draw.
    """
    where = os.fspath(path)
    if PurePath(path).suffix.lower() not in SUFFIXES:
        raise OutputError(
            "a page is an HTML file", where=where, todo="end the file's name in .html"
        )
    check_scale(scale, where)
    with atomic_write(path) as draft:  # refused before all the work where it cannot be written
        draft.write_bytes(page_text(part, scale, stages=stages).encode("utf-8"))


def page_text(part: Results, scale: float = 1.0, *, stages: bool = False) -> str:
    """Write the page itself."""
    library = three()
    style = _style(part)
    scripts = {
        "three": library.script,
        "look_js": _fill(_own("look.js"), _lamps()),
        **{f"{name}_js": _own(f"{name}.js") for name in ("scene", "page")},
    }
    name = escape(one_line(part.name))
    data = scene_data(part, stages=stages)
    steps = _fill(_own("steps.html"), {"last": str(len(data["steps"]) - 1)}) if stages else ""
    note = f"Mock-up at {scale_text(scale)}: size and weight below are those of the finished part"
    facts = (
        f"<dt>{escape(fact.word)}</dt><dd><b>{escape(unbroken(one_line(fact.value)))}</b>"
        f"<span>{escape(unbroken(fact.more))}</span></dd>"
        for fact in facts_of(part, scale)
    )
    return _fill(
        _own("page.html"),
        scripts
        | {
            "policy": _policy(list(scripts.values()), style),
            "style": style,
            "name": name,
            "scale_note": "" if scale == 1.0 else f'<p class="scale">{note}</p>',
            "still": "data:image/png;base64," + base64.b64encode(_still(part)).decode("ascii"),
            "still_width": str(STILL[0]),
            "still_height": str(STILL[1]),
            "still_words": escape(_still_words(part)),
            "scene_words": f"{name} in 3D",
            "stock_word": "bar" if part.stock.diameter else "block",
            "steps": steps,
            "facts": "\n".join(facts),
            "facts_note": escape(note_of(part, scale)),
            "views": views_svg(part),
            "three_licence": library.licence,
            "data": _json(data),
        },
    )


def unbroken(text: str) -> str:
    """Keep sizes on one line: no-break spaces round × and before units.

    >>> unbroken("2 × 3 mm of it").replace(chr(160), "_")
    '2_×_3_mm of it'
    """
    return _WITHIN_SIZE.sub("\N{NO-BREAK SPACE}", text)


def _style(part: Results) -> str:
    colours = {"part": look_of(part).colour, "held": HELD.colour}
    colours |= {"loose": LOOSE.colour, "stripe": LOOSE.stripe or LOOSE.colour}
    colours |= {"light": css(LIGHT), "dark": css(DARK)}
    return _fill(_own("page.css"), colours)


def _lamps() -> dict[str, str]:
    """Write the lights of the theme as the shader has them."""
    places = ["vec3({}, {}, {})".format(*light.position) for light in LIGHTS]
    lamps = (f"lamp(n, {place}, {one.power})" for place, one in zip(places, LIGHTS, strict=True))
    return {"lamps": " + ".join([f"{AMBIENT}", *lamps]), "key": places[0]}


def _own(name: str) -> str:
    return (files(__package__) / name).read_text(encoding="utf-8")


def _fill(template: str, values: Mapping[str, str]) -> str:
    """Replace each ``{{word}}``; what is put in is not looked at again."""
    return _SLOT.sub(lambda slot: values[slot[1]], template)


def _policy(scripts: list[str], style: str) -> str:
    """Allow only what stands in the page to run or load (Content Security Policy Level 3)."""
    allowed = " ".join(map(_hash, scripts))
    return (
        f"default-src 'none'; script-src {allowed}; style-src {_hash(style)}; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


def _json(data: Any) -> str:
    """Write JSON in which nothing can end the script element that holds it."""
    text = json.dumps(data, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _still_words(part: Results) -> str:
    unit = part.job.units
    material = f" in {part.material.name}" if part.material else ""
    size = size_text(part.solid.size, unit)
    return f"{one_line(part.name)}{material}, {size}, seen from the front, the right and above"


def _still(part: Results) -> bytes:
    """Draw the part alone as a PNG."""
    from matplotlib.image import imsave

    frame = CameraFrame.around(ISO, part.solid.mesh.vertices, STILL[0] / STILL[1])
    with Studio() as studio:
        style = Style(face=look_of(part).colour)
        image = studio.picture([(part.solid.mesh, style)], frame, STILL)
    file = io.BytesIO()
    imsave(file, image, format="png")
    return file.getvalue()
