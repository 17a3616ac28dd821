"""Several files that belong together: written all, or none."""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from silhouette3d.errors import OutputError
from silhouette3d.files import refused

__all__ = ["written_together"]


@contextmanager
def written_together(folder: str | os.PathLike[str]) -> Iterator[Path]:
    """Write files so that all of them appear in a folder, or none.

    The caller writes into the folder it is given, which is empty. When the
    ``with`` block ends well, a folder that did not exist takes the place of the
    draft at once. Into one that did, each file takes the place of the old one of
    its name at once, of which a copy is kept until all have been moved: if one
    cannot be, or somebody stops it, the old ones are put back. Other files there
    are left alone.

    Parameters
    ----------
    folder : str or path-like
        Made if it does not exist; the one above it must.

    Yields
    ------
    pathlib.Path
        Where to write.

    Raises
    ------
    OutputError
        If the name is that of a file, the folder above does not exist, or the
        system refuses to write.
    """
    where = os.fspath(folder)
    draft: Path | None = None
    try:
        target = _checked(where)
        new = not target.exists()
        draft = (target.parent if new else target) / f".{secrets.token_hex(8)}"
        draft.mkdir()
        yield draft
        if new:
            draft.rename(target)
        else:
            _moved_in(draft, target)
    except OSError as error:
        raise refused(error, "the files", where) from error
    finally:
        if draft is not None:
            shutil.rmtree(draft, ignore_errors=True)


def _checked(where: str) -> Path:
    """The real folder, which need not exist yet."""
    if "\0" in where:
        raise OutputError("the folder's name holds a null character", where=repr(where))
    target = Path(os.path.realpath(where))
    if target.exists() and not target.is_dir():
        raise OutputError(
            "this is a file, not a folder", where=where, todo="give the name of a folder"
        )
    if not target.parent.is_dir():
        raise OutputError(
            f"the folder {target.parent} does not exist",
            where=where,
            todo="create it, or choose another",
        )
    return target


def _moved_in(draft: Path, target: Path) -> None:
    """Move files into a folder; if one cannot be moved, put all back as they were."""
    aside = draft / "replaced"
    names = sorted(file.name for file in draft.iterdir())
    for name in names:
        if (target / name).is_dir():
            raise OutputError(
                f"{name} is a folder", where=str(target), todo="move it, or choose another place"
            )
    aside.mkdir()
    for name in names:
        if (target / name).exists():
            shutil.copy2(target / name, aside / name)
    done: list[str] = []
    try:
        for name in names:
            done.append(name)
            os.replace(draft / name, target / name)
    except BaseException:
        for name in done:
            _put_back(aside / name, target / name)
        raise


def _put_back(old: Path, place: Path) -> None:
    """The old file in its place again, or none if there was none."""
    with suppress(OSError):
        if old.exists():
            os.replace(old, place)
        elif place.is_file():
            place.unlink()
