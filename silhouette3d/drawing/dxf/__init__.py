"""Reading DXF."""
