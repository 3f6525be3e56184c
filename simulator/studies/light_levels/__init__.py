"""The same scene at falling light levels."""
