"""The part as a mesh."""
