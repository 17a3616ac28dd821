"""Reading SVG."""
