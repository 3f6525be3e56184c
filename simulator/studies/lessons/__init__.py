"""What teaches: series of predictions with what they show."""
