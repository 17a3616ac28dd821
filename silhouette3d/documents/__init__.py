"""Files for others: pictures, sheets, drawings, pages, meshes."""
