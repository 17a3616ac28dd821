"""Back from polygons to lines and arcs."""
