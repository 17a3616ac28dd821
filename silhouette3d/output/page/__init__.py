"""A page for the customer: the part in 3D, its facts and three views, in one HTML file."""

from silhouette3d.output.page.write import write_page

__all__ = ["write_page"]
