"""Pages of the lighting study."""
