"""From a file to an outline: read, close, nest."""
