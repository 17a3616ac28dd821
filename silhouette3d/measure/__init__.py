"""Measuring a solid: mass and where it sits, how bodies touch."""
