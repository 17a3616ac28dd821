"""All that is said about how a cut is run."""

from __future__ import annotations

from collections.abc import Sequence

from silhouette3d.cutting.runs import Run

_WAYS = {"edge": "from the edge", "hole": "inside a hole", "pierce": "by piercing"}


def starts_text(runs: Sequence[Run]) -> str:
    """Count how runs begin: "1 from the edge, 2 inside a hole"; nothing where there are none."""
    starts = [run.start for run in runs]
    return ", ".join(
        f"{starts.count(s)} {_WAYS[s]}" for s in ("edge", "hole", "pierce") if s in starts
    )
