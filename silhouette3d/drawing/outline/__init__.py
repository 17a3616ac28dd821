"""Outlines from curves: close, check, nest."""
