"""Pages of the calendar study."""
