"""Numbers as text: rounded as at school, and no more digits than mean something."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.base.units import figure, fixed, padded


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (-0.0, "0"),
        (1e-9, "0"),
        (0.1, "0.1"),
        (1234567.89, "1234568"),
        (123456.789, "123457"),
        (12.3456789, "12.3457"),
        (100.0, "100"),
        (99999.97, "100000"),
        (-0.00123456, "-0.001235"),
    ],
)
def test_figures(value: float, text: str) -> None:
    assert figure(value, 6, 6) == text


@given(st.integers(-(10**7), 10**7), st.integers(0, 4))
def test_halves_are_rounded_away_from_zero(whole: int, decimals: int) -> None:
    """Every half as it is written, whatever the binary number nearest to it: 3.175, 73.025, 0.5."""
    half = Fraction(2 * whole + 1, 2 * 10**decimals)
    away = whole + 1 if whole >= 0 else whole
    shown = Fraction(fixed(float(half), decimals))
    assert shown == Fraction(away, 10**decimals)


@given(st.floats(-1e6, 1e6), st.integers(0, 4))
def test_what_is_shown_is_nearest(value: float, decimals: int) -> None:
    """Within half of the last place, and what rounding in the twelfth digit may add."""
    step = Fraction(1, 10**decimals)
    off = abs(Fraction(fixed(value, decimals)) - Fraction(value))
    assert off <= step / 2 + Fraction(abs(value)) * Fraction(1, 10**11)


@given(st.floats(-1e6, 1e6), st.integers(0, 4))
def test_padded_has_all_its_decimals(value: float, decimals: int) -> None:
    text = padded(value, decimals)
    assert len(text.partition(".")[2]) == decimals
    assert float(text) == float(fixed(value, decimals))
