"""Files for others: pictures, meshes, drawings and sheets."""
