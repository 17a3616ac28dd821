"""``python -m silhouette3d``, and what the program ``silhouette3d`` runs."""

from __future__ import annotations

import sys

__all__ = ["main"]


def main() -> int:
    """Run one command; Ctrl-C counts from the first moment, also while libraries load."""
    try:
        from silhouette3d.cli import main as run

        return run()
    except KeyboardInterrupt:
        sys.stderr.write("silhouette3d: stopped\n")
        return 130


if __name__ == "__main__":
    sys.exit(main())
