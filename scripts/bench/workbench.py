#!/usr/bin/env python
"""How long an edit in the workbench takes to be on screen, for the samples.

An outline is moved on by a few hundredths of a unit, each time to where it has not been, and
the time is taken in the browser: from the request to the first frame that shows the new part.

    python scripts/bench/workbench.py
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

EDITS = 20
SAMPLES = ("tugboat", "lighthouse", "crane")

EDIT = """async (up) => {
  const before = workbench.drawn;
  const start = performance.now();
  workbench.ask("shift", 0, [0, up]);
  while (workbench.drawn <= before) await new Promise(requestAnimationFrame);
  return performance.now() - start;
}"""


def main() -> None:
    """Print the median, the least and the most of the times for each sample."""
    from playwright.sync_api import sync_playwright

    from tests.support.browser import WEBGL, launch
    from tests.support.workbench_running import copy_of, opened, started

    with sync_playwright() as playwright:
        browser = launch(playwright.chromium, *WEBGL)
        for sample in SAMPLES:
            with (
                tempfile.TemporaryDirectory() as folder,
                started(copy_of(sample, Path(folder)), ".") as running,
                opened(browser, running) as page,
            ):
                page.wait_for_selector('.findings[aria-busy="false"]')
                times = [float(page.evaluate(EDIT, 0.03 * (i + 1))) for i in range(EDITS)]
            print(
                f"{sample}: median {statistics.median(times):.0f} ms of {EDITS} edits, "
                f"{min(times):.0f} to {max(times):.0f} ms"
            )
        browser.close()


if __name__ == "__main__":
    main()
