"""Checks: what is wrong before a cut is made."""
