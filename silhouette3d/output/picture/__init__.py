"""Pictures of a part: one view, or a sheet of views with the outlines drawn over them."""

from silhouette3d.output.picture.sheet import draw_sheet, draw_view
from silhouette3d.output.picture.stages import draw_stages
from silhouette3d.output.picture.thin import draw_thin

__all__ = ["draw_sheet", "draw_stages", "draw_thin", "draw_view"]
