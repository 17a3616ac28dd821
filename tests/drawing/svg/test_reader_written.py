"""Reading SVG as programs write it: the area is right; and where it is spoilt, it is refused."""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.drawing.outline.outline import outline_of
from silhouette3d.errors import DrawingError
from tests.support.programs import nastily, written
from tests.support.svg_drawings import drawn_from

if TYPE_CHECKING:
    pass

seeds = st.integers(0, 2**32 - 1)


@given(seeds)
def test_the_area_of_a_drawing_as_programs_write_it(seed: int) -> None:
    drawing = written(Random(seed))
    outline = outline_of(drawn_from(drawing.data))
    # 12 digits of numbers below 100, on some 200 mm of outline
    assert abs(outline.polygons.area - drawing.area) <= outline.area_error + 1e-6


@given(seeds)
def test_a_spoilt_drawing_is_read_or_refused(seed: int) -> None:
    rng = Random(seed)
    data = nastily(rng, written(rng).data)
    try:
        outline = outline_of(drawn_from(data))
    except DrawingError as error:
        told = error
    else:
        assert outline.polygons.is_valid
        return
    assert told.what
    assert told.todo
    assert "tug.svg" in told.where
