"""Numbers as a person reads them: rounded as at school, no more digits than mean something.

Halves are rounded away from zero, and what counts as a half is decided on the decimal number
that is meant: 3.175 is a half of a hundredth although the nearest binary number lies below it.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

_SURE: Final = 12
"""Significant digits that are taken as meant; what stands behind them comes from rounding."""


def fixed(value: float, decimals: int) -> str:
    """Round to so many decimals and leave out zeros at the end.

    >>> fixed(3.175, 2), fixed(73.025, 2), fixed(-0.0004, 3), fixed(0.1 + 0.2, 6)
    ('3.18', '73.03', '0', '0.3')
    """
    meant = Decimal(f"{value:.{_SURE}g}").quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
    text = f"{meant:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def padded(value: float, decimals: int) -> str:
    """Round to so many decimals and show them all.

    >>> padded(2.0, 2), padded(0.125, 2), padded(7.5, 0)
    ('2.00', '0.13', '8')
    """
    whole, _, rest = fixed(value, decimals).partition(".")
    return f"{whole}.{rest.ljust(decimals, '0')}" if decimals else whole


def figure(value: float, digits: int = 4, most: int | None = None) -> str:
    """Round to some significant digits; never a power of ten.

    Digits before the point are all kept; after it there are `most` at most.

    >>> figure(46955.0492593), figure(0.0123456789), figure(1234567.8), figure(-1e-12, 6, 6)
    ('46955', '0.01235', '1234568', '0')
    """
    size = math.floor(math.log10(abs(value))) if value else 0
    decimals = max(0, digits - 1 - size)
    return fixed(value, decimals if most is None else min(decimals, most))


def percent(share: float, decimals: int = 1) -> str:
    """Tell a share of the whole; one too small for its decimals is told as below the least.

    >>> percent(0.125), percent(0.00001), percent(0.0), percent(0.666, 0)
    ('12.5%', 'under 0.1%', '0%', '67%')
    """
    text = fixed(100.0 * share, decimals)
    if text == "0" and share > 0.0:
        return f"under {fixed(10.0**-decimals, decimals)}%"
    return f"{text}%"


def decimals_of_bound(value: float) -> int:
    """Count the decimals that a bound on an error needs to have two significant digits."""
    return 1 - math.floor(math.log10(value))


def rounded_up(value: float, decimals: int) -> float:
    """Round a bound on an error so that it stays one.

    What rounding alone has added to a number of so many decimals is not rounded up.
    """
    unit = 10.0**decimals
    return math.ceil(value * unit * (1.0 - 1e-12)) / unit


def bound(value: float) -> str:
    """Tell a bound on an error: two significant digits, rounded up.

    >>> bound(50.59), bound(0.0123), bound(0.0), bound(2.0)
    ('51', '0.013', '0', '2')
    """
    if value <= 0.0:
        return "0"
    decimals = decimals_of_bound(value)
    return figure(rounded_up(value, decimals), 2, max(decimals, 0))
