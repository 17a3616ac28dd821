"""A page for the customer."""
