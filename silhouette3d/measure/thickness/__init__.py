"""Where a part is too thin: walls, necks and knife edges, and nothing else.

`surface` prepares triangles, edges and corners; `sampling` spreads points over
them; `tree` and `query` find the smallest ball at each; `knife` takes the sharp
edges; `cluster` gathers chords into places; `refine` goes down to the thinnest
point of each; `regions` is the way through all of them.
"""

from silhouette3d.measure.thickness.region import ThinRegion
from silhouette3d.measure.thickness.regions import thickness_field, thin_regions

__all__ = ["ThinRegion", "thickness_field", "thin_regions"]
