"""Paints of an SVG file: whether an object is painted, and in which colour.

A paint is a colour, a gradient or pattern elsewhere in the file, or nothing
(SVG 2, §13.2). What is not seen is not cut, and objects are chosen by colour.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass
from typing import Final

from silhouette3d.drawing.svg_colour import colour_of, referred, share
from silhouette3d.drawing.svg_file import SvgFile, local_name, target_name
from silhouette3d.drawing.svg_look import Look
from silhouette3d.drawing.svg_style import Cascade

__all__ = ["Paint", "Painter"]

_SERVERS: Final = frozenset(["linearGradient", "radialGradient", "pattern"])
_MOST_STEPS: Final = 20
"""Gradients that take their stops from one another."""


@dataclass(frozen=True)
class Paint:
    """How an area or a line is painted.

    Parameters
    ----------
    colour : str, optional
        ``"#rrggbb"``; None if it is of several.
    opaque : bool
        Whether nothing shows through.
    """

    colour: str | None
    opaque: bool


class Painter:
    """Decides how objects of one file are painted.

    Parameters
    ----------
    file : SvgFile
        For the gradients and patterns in it.
    cascade : Cascade
        What is declared for them.
    """

    def __init__(self, file: SvgFile, cascade: Cascade) -> None:
        self._file, self._cascade = file, cascade

    def fill(self, look: Look) -> Paint | None:
        """Tell how the inside is painted; None if it is not."""
        return self._paint(look, "fill")

    def stroke(self, look: Look) -> Paint | None:
        """Tell how the line is painted; None if it is not. Its width is not asked."""
        return self._paint(look, "stroke")

    def _paint(self, look: Look, name: str) -> Paint | None:
        density = share(look[f"{name}-opacity"])
        if density == 0.0:
            return None
        paint = self._of(look[name], look)
        return Paint(paint.colour, paint.opaque and density in {None, 1.0}) if paint else None

    def _of(self, text: str, look: Look) -> Paint | None:
        reference = referred(text)
        if reference is not None:
            server = self._server(reference[0])
            if server is not None:
                return self._served(server)
            return self._of(reference[1], look) if reference[1] else None
        word = text.lower()
        if word.startswith("context-"):  # of the object on which a marker stands: not drawn here
            return None
        colour = colour_of(look["color"] if word == "currentcolor" else text)
        return Paint(colour.name, colour.alpha >= 1.0) if colour and colour.alpha else None

    def _server(self, name: str) -> ET.Element | None:
        found = self._file.referred(name)
        return found if found is not None and local_name(found) in _SERVERS else None

    def _served(self, server: ET.Element) -> Paint | None:
        """A gradient is of one colour if its stops are; without stops it paints nothing."""
        if local_name(server) == "pattern":
            return Paint(None, opaque=False)
        for _ in range(_MOST_STEPS):
            stops = [child for child in server if local_name(child) == "stop"]
            further = self._server(target_name(server.attrib))
            if stops or further is None:
                break
            server = further
        paints = {self._stop(stop) for stop in stops}
        if not any(paints):
            return None
        return paints.pop() if len(paints) == 1 else Paint(None, opaque=False)

    def _stop(self, stop: ET.Element) -> Paint | None:
        values = self._cascade.values(stop)
        painted = {
            "fill": values.get("stop-color", "black"),
            "fill-opacity": values.get("stop-opacity", "1"),
            "color": values.get("color", "black"),
        }
        return self.fill(Look.initial().within(painted))
