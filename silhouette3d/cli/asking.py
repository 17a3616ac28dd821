"""What several commands take: JSON, units, a mass."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from cyclopts import Parameter, Token

from silhouette3d.quantity import GRAMS_PER, HEAVY, Units
from silhouette3d.units import Unit

AsJson = Annotated[bool, Parameter("--json")]
InUnits = Annotated[Units | None, Parameter("--units")]


@dataclass(frozen=True)
class Weight:
    """A mass as somebody wrote it.

    Parameters
    ----------
    number : float
        How much.
    unit : str
        Of it: g, kg, oz, lb, or nothing.
    """

    number: float
    unit: str

    def grams(self, unit: Unit) -> float:
        """The mass; a bare number is in the heavy unit that goes with a unit of length."""
        return self.number * GRAMS_PER[self.unit or HEAVY[unit][0]]


def _weight(_: type, tokens: Sequence[Token]) -> Weight:
    found = re.fullmatch(rf"\s*([^a-z]+?)\s*({'|'.join(GRAMS_PER)}|)\s*", tokens[0].value)
    try:
        number = float(found[1]) if found else math.nan
    except ValueError:
        number = math.nan
    if not found or not 0.0 <= number < math.inf:
        raise ValueError("a mass is wanted, such as 0.5, 0.5kg or 8oz.")
    return Weight(number, found[2])


Mass = Annotated[Weight | None, Parameter(converter=_weight, n_tokens=1, accepts_keys=False)]
