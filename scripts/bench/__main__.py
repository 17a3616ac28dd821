"""`python scripts/bench`: see `front`."""

from __future__ import annotations

import sys
from pathlib import Path


def main() -> None:
    """Modules of this folder are `bench.name`; the package need not be installed."""
    here = Path(__file__).resolve().parent
    sys.path[:1] = [str(here.parent), str(here.parents[1])]
    from bench.front import main as front

    front()


if __name__ == "__main__":
    main()
