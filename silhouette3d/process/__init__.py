"""What happens to the block, cut by cut."""
