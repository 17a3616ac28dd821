"""Extras that can be installed beside the core, and how to ask for them.

The core reads drawings, makes the part, weighs, checks and cuts it, and writes meshes and
setup drawings. Libraries that draw, set pages or serve a page are large, and come as extras
of the package; what needs one asks for it here before it begins.
"""

from __future__ import annotations

from importlib.util import find_spec
from typing import Final, Literal

from silhouette3d.errors import MissingLibraryError

__all__ = ["EXTRAS", "Extra", "is_installed", "need"]

Extra = Literal["pictures", "sheets", "workbench"]

_PICTURES: Final = ("matplotlib", "pyvista", "vtk")

EXTRAS: Final[dict[Extra, tuple[str, ...]]] = {
    "pictures": _PICTURES,
    "sheets": (*_PICTURES, "typst"),
    "workbench": (
        *_PICTURES,
        "aiohttp",
        "trame-client",
        "trame-server",
        "trame-vtk",
        "watchfiles",
        "wslink",
    ),
}
"""Packages of each extra by the names they are installed by, as in pyproject.toml."""

_IMPORTED_AS: Final = {"vtk": "vtkmodules"}
"""Packages whose modules have another name than they, apart from hyphens."""


def is_installed(package: str) -> bool:
    """Tell whether a package is there, without loading it."""
    try:
        return find_spec(_IMPORTED_AS.get(package, package.replace("-", "_"))) is not None
    except ImportError:  # something on the way to it is broken or kept away
        return False


def need(extra: Extra, purpose: str, *packages: str) -> None:
    """Refuse to begin what takes libraries that are not installed.

    Parameters
    ----------
    extra : {"pictures", "sheets", "workbench"}
        What brings them.
    purpose : str
        What they are needed for, to be read after "for".
    *packages : str
        Those of the extra that are needed; all unless told.

    Raises
    ------
    MissingLibraryError
        If one is missing.

    Examples
    --------
    >>> need("sheets", "setup sheets", "no-such-library")
    Traceback (most recent call last):
    silhouette3d.errors.MissingLibraryError: for setup sheets, no-such-library must be installed. \
Run pip install "silhouette3d[sheets]".
    """
    missing = [name for name in packages or EXTRAS[extra] if not is_installed(name)]
    if missing:
        *others, last = missing
        listed = f"{', '.join(others)} and {last}" if others else last
        raise MissingLibraryError(
            f"for {purpose}, {listed} must be installed",
            todo=f'run pip install "silhouette3d[{extra}]"',
        )
