"""Geometry: knows no job, no unit but mm, no sentences."""
