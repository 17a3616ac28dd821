"""Drawings: from a file to an outline."""
