"""three.js as trimesh's package carries it: nothing of it is kept in this repository."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import dataclass
from importlib.metadata import version
from importlib.resources import files
from typing import TYPE_CHECKING, Final

from silhouette3d.errors import OutputError

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

PLACE: Final = "resources/templates/viewer.zip"
MEMBER: Final = "viewer.html.template"

_LIBRARY: Final = re.compile(
    r"/\*\*\s*\* @license\s*"
    r"\* (?P<copyright>Copyright [^\n]*Three\.js Authors)\s*"
    r"\* SPDX-License-Identifier: MIT\s*\*/\s*"
    r"!function\([^\n]*\.THREE=\{\}\)[^\n]*"
)
"""The notice and, on one line, the library that defines the global name THREE."""


@dataclass(frozen=True)
class Library:
    """A script with its copyright line."""

    script: str
    copyright: str


def three(package: Traversable | None = None) -> Library:
    """The script of three.js with its licence notice.

    Parameters
    ----------
    package : Traversable, optional
        The folder of the package trimesh; the one installed by default.

    Raises
    ------
    OutputError
        If that release of trimesh does not carry it as expected.
    """
    package = files("trimesh") if package is None else package
    try:
        with zipfile.ZipFile(io.BytesIO(package.joinpath(PLACE).read_bytes())) as archive:
            text = archive.read(MEMBER).decode("utf-8")
    except (OSError, KeyError, ValueError, zipfile.BadZipFile) as error:
        raise _missing(f"{PLACE} with {MEMBER} in it cannot be read") from error
    found = _LIBRARY.search(text.replace("\r\n", "\n"))
    if found is None or "WebGLRenderer" not in found[0] or "</script" in found[0].lower():
        raise _missing(f"{MEMBER} holds no three.js where it used to")
    return Library(found[0], found["copyright"])


def _missing(what: str) -> OutputError:
    return OutputError(
        f"the script that draws in 3D is not in trimesh {version('trimesh')}: {what}",
        where="the installed package trimesh",
        todo="install the release that this was made with: pip install trimesh==5.2.0",
    )
