"""Pages of the lessons."""
