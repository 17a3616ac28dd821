"""DXF drawings as programs write them: read or refused with a reason, and the right area."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings

from silhouette3d.drawing.cache import Sheet
from silhouette3d.drawing.choice import Choice
from silhouette3d.drawing.model import Drawing
from silhouette3d.errors import DrawingError
from tests.support.dxf_drawings import LAYER, Drawn, dxf_drawings, judged
from tests.support.dxf_files import FINE, read, read_text

CUT = Choice((LAYER,))


def refusal_or_area(drawing: Drawing) -> DrawingError | float:
    try:
        return Sheet(drawing).outline(text="outline").polygons.area
    except DrawingError as error:
        return error


def check(drawn: Drawn) -> None:
    """On its layer the outline has its area; the whole drawing is taken, or refused in words."""
    drawing = read_text(drawn.data, whole=False)
    found = Sheet(drawing).outline(CUT, tolerance=FINE)
    slack = found.area_error + 1e-6 * drawn.area
    assert found.polygons.area == pytest.approx(drawn.area, abs=slack)
    strip = FINE * shapely.length(found.polygons)  # ezdxf's straight pieces lie within that
    assert judged(drawn.document) == pytest.approx(drawn.area, abs=slack + strip)
    whole = refusal_or_area(drawing)
    if isinstance(whole, DrawingError):
        assert whole.what
        assert whole.where
        assert whole.todo
    else:
        assert math.isfinite(whole)


@settings(max_examples=settings().max_examples // 2)
@given(dxf_drawings())
def test_what_programs_add_does_not_change_the_outline(drawn: Drawn) -> None:
    check(drawn)


@given(dxf_drawings())
@settings(max_examples=10)
def test_a_binary_file_says_what_the_text_says(drawn: Drawn) -> None:
    binary = Sheet(read(drawn.document, "bin", whole=False)).outline(
        Choice((LAYER,)), tolerance=FINE
    )
    text = Sheet(read_text(drawn.data, whole=False)).outline(CUT, tolerance=FINE)
    assert binary.polygons.area == pytest.approx(text.polygons.area, rel=1e-12)
