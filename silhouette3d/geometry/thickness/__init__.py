"""Thin places of a part: walls, necks and knife edges, and nothing else.

`sampling` prepares triangles, edges and corners and spreads points over them; `bvh`
lays them out in hierarchies; `ball_search` finds the smallest ball at each point;
`chords` keeps those that are thin and goes down to the thinnest point of each place;
`corner_exceptions` takes what belongs to sharp edges and corners; `clusters` gathers
the rest into places; `assembly` makes regions of all that; `regions` is what others call.
`definition` has the terms.
"""

from silhouette3d.geometry.thickness.definition import ThinRegion
from silhouette3d.geometry.thickness.regions import thickness_field, thin_regions

__all__ = ["ThinRegion", "thickness_field", "thin_regions"]
