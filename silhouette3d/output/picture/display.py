"""Whether this machine can draw, found out without being taken down by it.

Without a working OpenGL, VTK does not raise: it ends the process. So drawing is
tried once in a process of its own, which takes half a second.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Final

from silhouette3d.errors import PictureError

CHOICE: Final = "VTK_DEFAULT_OPENGL_WINDOW"
"""The environment variable by which VTK is told what to draw with, read for each window."""

WITHOUT_SCREEN: Final = "vtkEGLRenderWindow"
ON_SCREEN: Final = "vtkXOpenGLRenderWindow"
VTK_CHOOSES: Final = ""
"""Stands for a variable that is not set: VTK takes the first kind that works, or ends."""

_TRIAL: Final = """
import vtkmodules.vtkRenderingOpenGL2
from vtkmodules.vtkRenderingCore import vtkRenderWindow, vtkRenderer
window = vtkRenderWindow()
window.SetOffScreenRendering(1)
window.SetSize(8, 8)
window.AddRenderer(vtkRenderer())
window.Render()
raise SystemExit(not window.SupportsOpenGL())
"""
_PATIENCE: Final = 60.0
"""Seconds, for a machine that is very busy or a display server that does not answer."""


def draws_with(choice: str, code: str = _TRIAL) -> bool:
    """Whether a process of its own can draw with one of VTK's kinds of window.

    Parameters
    ----------
    choice : str
        The name of VTK's class, or `VTK_CHOOSES`.
    code : str
        What the process runs; it must end well.
    """
    if not sys.executable:  # Python inside another program: there is no process to try it in
        return True
    try:
        trial = subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, CHOICE: choice} if choice else _without(CHOICE),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=_PATIENCE,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return trial.returncode == 0


@cache
def window_for_pictures() -> str:
    """VTK's kind of window that draws without a screen here.

    Raises
    ------
    PictureError
        If none does.
    """
    chosen = os.environ.get(CHOICE)
    if chosen:
        tried = [chosen]
    elif sys.platform == "linux":
        tried = [WITHOUT_SCREEN, VTK_CHOOSES]
    else:
        tried = [VTK_CHOOSES]
    for choice in tried:
        if draws_with(choice):
            return choice
    raise _cannot_draw(chosen)


@cache
def window_for_screen() -> str:
    """VTK's kind of window that opens on this machine's screen.

    Raises
    ------
    PictureError
        If there is no screen, or nothing can be drawn on it.
    """
    choice = ON_SCREEN if sys.platform == "linux" else VTK_CHOOSES
    if choice == ON_SCREEN and not os.environ.get("DISPLAY"):
        raise _no_screen("there is no screen to open a window on (DISPLAY is not set)")
    if not draws_with(choice):
        shown = os.environ.get("DISPLAY", "")
        raise _no_screen(f"no window can be opened on the screen {shown!r}".replace(" ''", ""))
    return choice


@contextmanager
def drawing_with(choice: str) -> Iterator[None]:
    """Let windows made inside be of this kind."""
    before = os.environ.get(CHOICE, VTK_CHOOSES)
    _choose(choice)
    try:
        yield
    finally:
        _choose(before)


def _choose(choice: str) -> None:
    if choice == VTK_CHOOSES:
        os.environ.pop(CHOICE, None)
    else:
        os.environ[CHOICE] = choice


def _without(name: str) -> dict[str, str]:
    return {key: value for key, value in os.environ.items() if key != name}


def _cannot_draw(chosen: str | None) -> PictureError:
    if chosen:
        return PictureError(
            f"VTK cannot draw with {chosen!r}, which the environment variable {CHOICE} asks for",
            todo=f"unset {CHOICE}",
        )
    return PictureError(
        "this machine cannot draw pictures: VTK finds no OpenGL that works without a screen",
        todo="install Mesa's EGL (Debian, Ubuntu: apt-get install libegl1 libgl1-mesa-dri); "
        "everything but pictures of the part works without it",
    )


def _no_screen(what: str) -> PictureError:
    return PictureError(
        what,
        todo="run this on the desktop of a machine with a screen, or write a picture to a file "
        "with `silhouette3d picture JOB -o part.png`",
    )
