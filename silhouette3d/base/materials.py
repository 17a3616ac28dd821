"""Densities of what is cut, each with its source.

The table itself is materials.toml beside this module: read there which
publication says what, and which figures nobody has confirmed.
"""

from __future__ import annotations

import difflib
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

from silhouette3d.errors import JobError

__all__ = ["Material", "all_materials", "find_material"]


@dataclass(frozen=True)
class Material:
    """A material of the table.

    Parameters
    ----------
    name : str
        The name to show, such as ``aluminium 6061``.
    density_g_cm3 : float
        Density in g/cm³ at room temperature.
    family : str
        metal, plastic, wood, stone, glass or foam.
    source : str
        Who gives the density, as a sentence.
    aliases : tuple of str
        Other names of the same material.
    range_g_cm3 : tuple of float, optional
        Lowest and highest density, in g/cm³, that the sources or the trade give.
    """

    name: str
    density_g_cm3: float
    family: str
    source: str
    aliases: tuple[str, ...] = ()
    range_g_cm3: tuple[float, float] | None = None


@cache
def all_materials() -> tuple[Material, ...]:
    """List every material of the table, sorted by family and then by name."""
    text = (resources.files("silhouette3d.base") / "materials.toml").read_text(encoding="utf-8")
    found = (
        Material(
            name=name,
            density_g_cm3=float(entry["density"]),
            family=family,
            source=entry["source"],
            aliases=tuple(entry["aliases"]),
            range_g_cm3=(entry["range"][0], entry["range"][1]) if "range" in entry else None,
        )
        for family, entries in tomllib.loads(text).items()
        for name, entry in entries.items()
    )
    return tuple(sorted(found, key=lambda one: (one.family, one.name.casefold())))


def find_material(name: str) -> Material:
    """Find the material that goes by a name or an alias.

    Upper and lower case, spaces and punctuation do not count, and aluminum is
    aluminium.

    Parameters
    ----------
    name : str
        Such as ``Aluminum 6061-T6``.

    Returns
    -------
    Material

    Raises
    ------
    JobError
        When no material goes by that name; names the three that come nearest.

    Examples
    --------
    >>> find_material("Aluminum_6061-T6").density_g_cm3
    2.7
    """
    wanted = _plain(name)
    known = _by_plain_name()
    if wanted in known:
        return known[wanted]
    nearest = ", ".join(f'"{one}"' for one in _nearest(wanted))
    raise JobError(
        f'no material is known as "{name}"',
        where="stock.material",
        todo=f"the nearest known names are {nearest}; use one of them, or give stock.density "
        "in g/cm3",
    )


def _plain(name: str) -> str:
    """Strip a name of what may differ from one writer to the next."""
    letters = "".join(sign for sign in name.casefold() if sign.isalnum())
    return letters.replace("aluminum", "aluminium")


@cache
def _by_plain_name() -> dict[str, Material]:
    return {_plain(name): one for one in all_materials() for name in (one.name, *one.aliases)}


def _nearest(wanted: str) -> list[str]:
    """Find the three materials with the likest name or alias; one that holds all of it is liker."""
    known = _by_plain_name()
    likest_first = difflib.get_close_matches(wanted, known, n=len(known), cutoff=0.0)
    likest_first.sort(key=lambda plain: wanted not in plain)
    return list(dict.fromkeys(known[plain].name for plain in likest_first))[:3]
