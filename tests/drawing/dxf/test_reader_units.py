"""The unit of a DXF drawing: what it states, what the job says instead."""

from __future__ import annotations

import re
import sys
from fractions import Fraction
from typing import Any

import pytest

from silhouette3d.base.units import DXF_UNITS, Unit
from silhouette3d.drawing.model import Line
from silhouette3d.errors import DrawingError
from tests.support.dxf_files import (
    RELEASES,
    bare,
    enclosed,
    new,
    only,
    read,
    read_text,
    tags,
    text_of,
)

INCH = Fraction(254, 10)  # mm, exact: international inch of 1959
SURVEY_FOOT = Fraction(1_200_000, 3937)  # mm, exact: NIST Special Publication 811, appendix B.6
CODES: dict[int, Fraction] = {
    1: INCH,
    2: 12 * INCH,
    3: 5280 * 12 * INCH,
    4: Fraction(1),
    5: Fraction(10),
    6: Fraction(10**3),
    7: Fraction(10**6),
    8: INCH / 10**6,
    9: INCH / 10**3,
    10: 36 * INCH,
    11: Fraction(1, 10**7),
    12: Fraction(1, 10**6),
    13: Fraction(1, 10**3),
    14: Fraction(10**2),
    15: Fraction(10**4),
    16: Fraction(10**5),
    17: Fraction(10**12),
    21: SURVEY_FOOT,
    22: SURVEY_FOOT / 12,
    23: SURVEY_FOOT * 3,
    24: SURVEY_FOOT * 5280,
}
"""mm per unit for each $INSUNITS code of the DXF reference (HEADER section)."""

LINE = tags((0, "LINE"), (5, "2F"), (8, "HULL"), (10, 1), (20, 2), (11, 30), (21, 45.5))
"""From (1, 2) to (30, 45.5)."""


def line_of(length: float, code: int, release: str = "R2010") -> Any:
    document = new(release, unit=code)
    document.modelspace().add_line((0, 0), (length, 0))
    return document


@pytest.mark.parametrize("code", CODES)
def test_each_unit_a_drawing_can_state(code: int) -> None:
    length = float(10 / CODES[code])
    drawing = read(line_of(length, code))
    # the length and the factor are each rounded once, and so is their product
    assert only(drawing).end == pytest.approx((10.0, 0.0), rel=4 * sys.float_info.epsilon)
    assert drawing.unit == DXF_UNITS[code][0]
    assert drawing.unit_stated


def test_no_code_is_missing_from_either_table() -> None:
    assert set(DXF_UNITS) == set(CODES)


@pytest.mark.parametrize("code", [18, 19, 20, 25, 99, -1])
def test_units_that_no_part_is_drawn_in_are_errors(code: int) -> None:
    text = text_of(line_of(10, 4))
    text, count = re.subn(r"(\$INSUNITS\s+70\s+)4\b", rf"\g<1>{code}", text)
    assert count == 1
    with pytest.raises(DrawingError, match=rf"\$INSUNITS = {code}") as caught:
        read_text(text)
    assert "state the unit of this drawing in the job" in caught.value.todo
    assert only(read_text(text, unit="in")).end == (254.0, 0.0)


@pytest.mark.parametrize(
    ("default", "end", "name"), [("mm", 10.0, "millimetre"), ("in", 254.0, "inch")]
)
@pytest.mark.parametrize("release", RELEASES)
def test_a_drawing_that_states_no_unit(release: str, default: Unit, end: float, name: str) -> None:
    drawing = read(line_of(10, 0, release), default=default)
    assert only(drawing).end == (end, 0.0)
    assert drawing.unit == name
    assert not drawing.unit_stated
    assert drawing.notes == ()


def test_a_file_without_a_header_states_no_unit() -> None:
    drawing = read_text(bare(LINE))
    assert only(drawing).pieces == (Line((1.0, 2.0), (30.0, 45.5)),)
    assert not drawing.unit_stated


def test_the_oldest_release_may_state_one() -> None:
    drawing = read_text(bare(LINE, header=tags((9, "$INSUNITS"), (70, 1))))
    assert only(drawing).start == (25.4, 50.8)
    assert drawing.unit_stated


def test_the_job_overrides_what_the_drawing_states() -> None:
    document = line_of(10, 1)
    drawing = read(document, unit="mm")
    assert only(drawing).end == (10.0, 0.0)
    assert (drawing.unit, drawing.unit_stated) == ("millimetre", False)
    assert drawing.notes == (
        "the file states inch as its unit; its numbers were taken as millimetre",
    )
    same = read(document, unit="in", default="mm")
    assert (same.unit, same.unit_stated, same.notes) == ("inch", True, ())
    assert read(line_of(10, 0), unit="in").notes == ()


def test_an_area_survives_the_whole_way_from_inches() -> None:
    document = new(unit=1)
    document.modelspace().add_lwpolyline([(0, 0), (2, 0), (2, 1), (0, 1)], close=True)
    assert enclosed(read(document))[0] == pytest.approx(2.0 * 25.4**2, rel=1e-12)  # rounding
