"""The theme reaches the contrast it claims, and browsers get it whole."""

from __future__ import annotations

import json

import numpy as np
import pytest

from silhouette3d.presentation import theme
from silhouette3d.workbench.server import theme_script, theme_style


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    shares = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in shares]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted([luminance(one), luminance(other)], reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize("colours", [theme.LIGHT, theme.DARK], ids=["light", "dark"])
def test_text_and_signs_stand_off_their_grounds(colours: dict[str, str]) -> None:
    """WCAG 2.2, 1.4.3 and 1.4.11: 4.5 : 1 for text, 3 : 1 for signs and borders."""
    for ground in ("ground", "sheet"):
        for ink in ("ink", "pale", "error", "warning", "note", "fine"):
            assert contrast(colours[ink], colours[ground]) >= 4.5, (ink, ground)
        for sign in ("edge", "main", "ring"):
            assert contrast(colours[sign], colours[ground]) >= 3.0, (sign, ground)
    assert contrast(colours["on-main"], colours["main"]) >= 4.5


def test_light_and_dark_have_the_same_names() -> None:
    assert set(theme.LIGHT) == set(theme.DARK)


def test_the_browser_gets_it_as_json_and_as_style_sheet() -> None:
    script = theme_script()
    got = json.loads(script[script.index("{") : script.rindex("}") + 1])
    assert got["signs"] == theme.SIGNS
    assert [view["name"] for view in got["views"]] == list(theme.VIEW_WORDS)
    assert [light["power"] for light in got["lights"]] == [one.power for one in theme.LIGHTS]
    style = theme_style()
    assert "--ink: #1b2733;" in style
    assert '[data-look="dark"]' in style
