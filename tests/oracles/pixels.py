"""How much of a page a browser paints: an independent judge of what an SVG drawing shows."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from playwright.sync_api import Browser

__all__ = ["Painted", "paint"]

PIXELS: Final = 10
"""To the mm. Chromium smooths edges, so each pixel of an edge is right to some 1 in 16."""

_SCRIPT: Final = """async ([files, width, height]) => {
    const canvas = new OffscreenCanvas(width, height);
    const context = canvas.getContext("2d", { willReadFrequently: true });
    const found = [];
    for (const file of files) {
        const image = new Image();
        const bytes = Uint8Array.from(atob(file), c => c.charCodeAt(0));
        image.src = URL.createObjectURL(new Blob([bytes], { type: "image/svg+xml" }));
        try {
            await image.decode();
        } catch {
            found.push(null);
            continue;
        } finally {
            URL.revokeObjectURL(image.src);
        }
        context.clearRect(0, 0, width, height);
        context.drawImage(image, 0, 0, width, height);
        const data = context.getImageData(0, 0, width, height).data;
        let seen = 0, dark = 0;
        for (let i = 0; i < data.length; i += 4) {
            const light = (data[i] + data[i + 1] + data[i + 2]) / 765;
            seen += data[i + 3] / 255;
            dark += data[i + 3] / 255 * (1 - light);
        }
        found.push([seen, dark]);
    }
    return found;
}"""


@dataclass(frozen=True)
class Painted:
    """What a browser paints of a drawing.

    Parameters
    ----------
    seen : float
        Area in mm² on which there is any paint.
    dark : float
        Area in mm², white paint counted as none, black as whole.
    """

    seen: float
    dark: float


def paint(
    browser: Browser, drawings: Sequence[bytes], width: float, height: float
) -> list[Painted | None]:
    """Paint drawings of one size, in one page, as a browser shows pictures.

    Parameters
    ----------
    browser : Browser
        From `tests.support.browser`.
    drawings : sequence of bytes
        SVG files.
    width, height : float
        Of their page, in mm.

    Returns
    -------
    list of Painted, or None for one that the browser takes for no drawing
    """
    page = browser.new_page()
    try:
        files = [base64.b64encode(drawing).decode() for drawing in drawings]
        found: list[Any] = page.evaluate(
            _SCRIPT, [files, round(width * PIXELS), round(height * PIXELS)]
        )
    finally:
        page.close()
    return [each and Painted(*(count / PIXELS**2 for count in each)) for each in found]
