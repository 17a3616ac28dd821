"""Base: what every room needs, units, quantities, limits, files, materials, codes."""
