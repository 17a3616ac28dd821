"""Pictures of part, outlines and stages."""
