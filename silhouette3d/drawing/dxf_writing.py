"""Text of a DXF file as lines of writing: TEXT, ATTRIB and MTEXT.

Heights are those of capital letters (DXF reference, group code 40 of TEXT; its
alignments are those of group codes 72 and 73). How far letters reach below the baseline
is not stated: a third of the height (common practice, no source).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from silhouette3d.drawing.curve import Array
from silhouette3d.drawing.drawing import Writing
from silhouette3d.drawing.dxf_frame import Frame, NotLevelError
from silhouette3d.drawing.dxf_mtext import Run, decoded, set_lines
from silhouette3d.limits import FARTHEST

__all__ = ["UnsettableError", "writings_of"]

_ALIGNED, _MIDDLE, _FIT = 3, 4, 5
_BACKWARDS, _UPSIDE_DOWN = 2, 4
_VERTICAL: Final = 4
"""Flag of a style whose letters stand below each other."""

_DEPTH: Final = 1.0 / 3.0
"""How far letters reach below the baseline, in heights of capitals."""

_RISE: Final = {0: 0.0, 1: _DEPTH, 2: -0.5, 3: -1.0}
"""From the point of alignment up to the baseline, in heights, by group code 73."""

_SMALLEST: Final = 1e-6
"""mm. Text that is no higher is none."""


class UnsettableError(ValueError):
    """The text is not one that can be set in lines as it is meant."""


@dataclass(frozen=True)
class _Style:
    """What a text takes from its style."""

    font: str
    bold: bool
    italic: bool
    width: float
    oblique: float


def writings_of(entity: Any, frame: Frame, layer: str, colour: str) -> tuple[Writing, ...]:
    """Give the lines of a text as they lie in the drawing.

    Parameters
    ----------
    entity : DXFEntity
        TEXT, ATTRIB, ATTDEF or MTEXT.
    frame : Frame
        That it lies in.
    layer, colour : str
        Of what it leaves open.

    Raises
    ------
    UnsettableError
        If it does not lie level, has columns or runs downwards, or its numbers make
        no sense.
    """
    try:
        make = _mtext if entity.dxftype() == "MTEXT" else _text
        found = [w for w in make(entity, frame, layer, colour) if w.text.strip()]
    except NotLevelError as error:
        raise UnsettableError(str(error)) from None
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise UnsettableError(f"it cannot be read: {error}") from None
    return tuple(w for w in found if _is_sound(np.array(w.matrix)))


def _is_sound(matrix: Array) -> bool:
    if not (np.abs(matrix) <= FARTHEST).all():  # not a number counts as too far
        raise UnsettableError("it lies too far away")
    return bool(np.linalg.norm(matrix[2:4]) > _SMALLEST)


def _style(entity: Any) -> _Style:
    """Give the style of a text; the family that some programs add says more than the file."""
    name = entity.dxf.get("style", "Standard")
    styles: Any = entity.doc.styles if entity.doc is not None else {}
    if name not in styles:
        return _Style("", bold=False, italic=False, width=1.0, oblique=0.0)
    style = styles.get(name)
    if style.dxf.flags & _VERTICAL:
        raise UnsettableError("its letters stand below each other")
    family, italic, bold = style.get_extended_font_data()
    named = ", ".join(filter(None, (family, style.dxf.font)))
    return _Style(named, bold, italic, style.dxf.width or 1.0, style.dxf.oblique)


def _plain(text: str) -> str:
    r"""Resolve the codes of a line: %%c is a diameter, %%065 and \U+0041 are characters."""
    from ezdxf.tools.text import plain_text

    numbered = re.sub(r"%%(\d{3})", lambda found: chr(int(found[1])), decoded(text))
    return str(plain_text(numbered))


def _text(entity: Any, frame: Frame, layer: str, colour: str) -> list[Writing]:
    if entity.dxftype() == "ATTRIB" and entity.has_embedded_mtext_entity:
        return _mtext(entity.virtual_mtext_entity(), frame, layer, colour)
    dxf, style = entity.dxf, _style(entity)
    across, up = dxf.get("halign", 0), dxf.get("valign", 0)
    flags = dxf.get("text_generation_flag", 0)
    backwards = bool(flags & _BACKWARDS)
    height, turn, length = dxf.height, math.radians(dxf.rotation), None
    at, rise, anchor = dxf.insert, _RISE[0], 0.0
    if across in (_ALIGNED, _FIT) and dxf.hasattr("align_point"):
        along = dxf.align_point - dxf.insert
        length = math.hypot(along.x, along.y) / height
        turn = math.atan2(along.y, along.x)
        anchor = 1.0 if backwards else 0.0  # it stays between its points
    elif (across or up) and dxf.hasattr("align_point"):
        at, rise = dxf.align_point, _RISE.get(up, 0.0)
        anchor = {1: 0.5, 2: 1.0, _MIDDLE: 0.5}.get(across, 0.0)
        if across == _MIDDLE:
            rise = (_DEPTH - 1.0) / 2.0
    mirrored = (-1.0 if backwards else 1.0, -1.0 if flags & _UPSIDE_DOWN else 1.0)
    slant = math.tan(math.radians(dxf.get("oblique", 0.0)))
    letters = np.array([[dxf.get("width", 1.0) or 1.0, slant, 0.0], [0.0, 1.0, rise]]) * height
    if length is not None:
        letters[0, 0] = height
    placed = _turned(turn) @ (np.diag(mirrored) @ letters)
    placed[:, 2] += (at.x, at.y)
    plane = frame.in_object_plane(entity).plane(at.z)
    return [
        Writing(
            _plain(dxf.text),
            _through(plane, placed),
            style.font,
            layer,
            colour,
            anchor,
            style.bold,
            style.italic,
            capitals=True,
            length=length,
            uniform=across == _ALIGNED,
        )
    ]


def _mtext(entity: Any, frame: Frame, layer: str, colour: str) -> list[Writing]:
    if entity.has_columns and entity.columns.count > 1:
        raise UnsettableError("it has columns")
    if entity.dxf.get("flow_direction", 1) == 3:
        raise UnsettableError("its letters stand below each other")
    style, ucs = _style(entity), entity.ucs()
    axes = np.eye(4)
    axes[:3] = np.column_stack([tuple(v) for v in (ucs.ux, ucs.uy, ucs.uz, ucs.origin)])
    plane = frame.within(axes).plane(0.0)
    plain = Run("", style.font, style.bold, style.italic, 1.0, style.width, style.oblique)
    return [
        Writing(
            run.text,
            _through(plane, np.array(run.matrix).reshape(3, 2).T),
            run.font,
            layer,
            run.colour or colour,
            anchor,
            run.bold,
            run.italic,
            capitals=True,
        )
        for run, anchor in set_lines(entity, plain)
    ]


def _turned(angle: float) -> Array:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s], [s, c]])


def _through(plane: Array, placed: Array) -> tuple[float, float, float, float, float, float]:
    """One (2, 3) map after another, in the order of a writing's matrix."""
    whole = plane[:, :2] @ placed
    whole[:, 2] += plane[:, 2]
    a, b, c, d, e, f = (float(x) for x in whole.T.ravel())
    return a, b, c, d, e, f
