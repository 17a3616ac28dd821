"""Checks: what to look at before cutting, as data."""
