"""How a part stands, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from silhouette3d.number import fixed

if TYPE_CHECKING:
    from silhouette3d.measure.standing import Pose


def standing_text(pose: Pose) -> str:
    """Tell on which side a part stands, and how far it can be tilted."""
    slanted = ", a slanted side" if " " in pose.side else ""
    return f"its {pose.side}{slanted}; {tipping_text(pose)}"


def tipping_text(pose: Pose) -> str:
    """Tell how far a part can be tilted; angles in tenths of a degree, rounded down."""
    angle = math.floor(pose.tipping_angle * 10.0 + _WHOLE) / 10.0
    return (
        f"tips over when tilted by {fixed(angle, 1)}°" if pose.tipping_angle else "does not stand"
    )


_WHOLE: Final = 1e-6
"""Of a tenth: what rounding takes off an angle that is a whole number of them."""
