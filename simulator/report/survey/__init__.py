"""Pages of a survey."""
