"""Drawings that nobody made for this program, read one by one and judged by other means."""
