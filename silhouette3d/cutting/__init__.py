"""Cut by cut: what each cut takes away, frees and leaves held."""
