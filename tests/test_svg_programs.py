"""Reading SVG: what drawing programs add around the same outline changes nothing."""

from __future__ import annotations

import pytest

from silhouette3d.drawing.outline import outline_of
from tests.svg_drawings import drawn_from

PAGE = 'width="40mm" height="40mm" viewBox="0 0 40 40"'
SVG = 'xmlns="http://www.w3.org/2000/svg"'
HULL = '<path id="hull" d="M5 5H35V35H5Z"/>'


@pytest.mark.parametrize(
    "text",
    [
        f"<svg {SVG} {PAGE}>{HULL}</svg>",
        # every element with an id, some, none, and an empty one
        f'<svg {SVG} {PAGE} id="svg1"><g id="g1">{HULL}</g></svg>',
        f'<svg {SVG} {PAGE} id="svg1"><g>{HULL}</g></svg>',
        f'<svg {SVG} {PAGE}><rect x="5" y="5" width="30" height="30"/></svg>',
        f'<svg {SVG} {PAGE} id=""><path id="" d="M5 5H35V35H5Z"/></svg>',
    ],
)
def test_the_same_square(text: str) -> None:
    drawing = drawn_from(text.encode())
    assert outline_of(drawing).polygons.area == pytest.approx(900.0)
    assert drawing.notes == ()
