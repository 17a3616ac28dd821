"""Process: what happens to the block, cut by cut."""
