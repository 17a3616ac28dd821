"""All that is worked out for one job, each value once."""
