"""The task at every hour of a year."""
