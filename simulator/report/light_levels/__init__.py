"""Pages of the levels of light."""
