"""The page of a light budget."""
