"""``python -m silhouette3d``."""

import sys

from silhouette3d.cli import main

if __name__ == "__main__":
    sys.exit(main())
