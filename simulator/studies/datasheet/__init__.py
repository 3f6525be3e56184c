"""Camera profiles from what a datasheet says."""
