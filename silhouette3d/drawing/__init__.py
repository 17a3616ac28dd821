"""From a file to an outline."""
