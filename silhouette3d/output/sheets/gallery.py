"""Rendered pictures for the sheets, kept as files until the sheets are set."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from silhouette3d.errors import PictureError

if TYPE_CHECKING:
    from silhouette3d.output.picture.scene import Frame, Studio, Style
    from silhouette3d.solid import Mesh

DOTS: Final = 9.0
"""Pixels per mm of paper: some 230 to the inch."""

NO_PICTURE: Final = "without shaded pictures: this machine cannot draw them"


@dataclass(frozen=True)
class Gallery:
    """Draws solids into files of a folder, where the machine can.

    Parameters
    ----------
    folder : Path
        Where the files go.
    studio : Studio, optional
        None where the machine cannot draw: the sheets do without shaded pictures then.
    """

    folder: Path
    studio: Studio | None

    def draw(
        self,
        name: str,
        solids: Sequence[tuple[Mesh, Style]],
        frame: Frame,
        width: float,
    ) -> str | None:
        """The name of the file that holds the picture; its width in mm of paper."""
        if self.studio is None:
            return None
        from matplotlib.image import imsave

        size = width * DOTS, width * DOTS * frame.height / frame.width
        pixels = self.studio.picture(
            solids, frame, (max(1, round(size[0])), max(1, round(size[1])))
        )
        imsave(self.folder / f"{name}.png", pixels)
        return f"{name}.png"


@contextmanager
def gallery(folder: Path) -> Iterator[Gallery]:
    """A gallery that is open while the block lasts."""
    from silhouette3d.output.picture.scene import Studio

    try:
        studio = Studio()
    except PictureError:
        yield Gallery(folder, None)
        return
    with studio:
        yield Gallery(folder, studio)
