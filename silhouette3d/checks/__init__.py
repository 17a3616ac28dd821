"""What to look at before cutting, as data."""
