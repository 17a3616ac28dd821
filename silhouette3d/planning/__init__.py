"""What to do about it: orders, tabs, a foot."""
