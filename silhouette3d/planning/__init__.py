"""Planning: orders, tabs, a foot."""
