"""The job file: what may stand in it, read and written."""
