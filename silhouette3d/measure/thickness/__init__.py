"""Where a part is too thin: walls, necks and knife edges, and nothing else.

`surface` prepares triangles, edges and corners, and `scene` lays them out with
the hierarchies of `tree`; `sampling` spreads points over them; `query` finds the
smallest ball at each, `chords` keeps those that are thin; `knife` and `pointed`
take what belongs to sharp edges and corners; `cluster` gathers the rest into
places; `refine` goes down to the thinnest point of each; `assemble` makes regions
of all that; `regions` is what others call, and `terms` has the numbers. `compiled`,
`points` and `cores` are tools: machine code, its arithmetic, and threads.
"""

from silhouette3d.measure.thickness.region import ThinRegion
from silhouette3d.measure.thickness.regions import thickness_field, thin_regions

__all__ = ["ThinRegion", "thickness_field", "thin_regions"]
