"""What else helps where tabs do not, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from silhouette3d.quantity import Scale

if TYPE_CHECKING:
    from silhouette3d.cutting.foot import Foot


def ways_text(
    order: Sequence[str] | None, foot: Foot | None, names: Sequence[str], say: Scale
) -> str:
    """Say what was found to help, or that nothing was.

    Parameters
    ----------
    order : sequence of str, optional
        Names of the profiles in an order in which tabs help.
    foot : Foot, optional
        One by which the part can be held.
    names : sequence of str
        Of the profiles, as the job lists them.
    say : Scale
        In what unit.
    """
    told = []
    if order is not None:
        told.append(
            f"Another order helps: {', '.join(order)}, with new tabs (set it, then run "
            "`silhouette3d tabs --replace --write`)."
        )
    if foot is not None:
        told.append(foot_text(foot, names, say))
    if not told:
        return "Neither another last cut nor a foot beyond the part helps: take a larger stock."
    return " ".join(told)


def foot_text(foot: Foot, names: Sequence[str], say: Scale) -> str:
    """Say how to leave a foot, with its numbers."""
    early, last = [names[i] for i in foot.order[:-1]], names[foot.order[-1]]
    longer = (
        f"Take the stock {say.length(foot.longer)} longer at its {foot.side}. "
        if (foot.longer > 0.0)
        else ""
    )
    clamps = "; ".join(f'clamp = ["{side}"] for {names[i]}' for i, side in enumerate(foot.clamp))
    return (
        f"A foot helps. {longer}Let no cut but the last go through the {say.length(foot.length)} "
        f"of stock beyond the part at its {foot.side}: carry the outlines of {' and '.join(early)} "
        "straight on there for the kerf that parts the part off, and widen them then to the "
        f"whole face, without tabs. Clamp by it in every setup ({clamps}). Cut {last} last, which "
        f"parts the part off; until then it holds by {say.area(foot.hold)}."
    )
