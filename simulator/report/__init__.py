"""Shows results to people."""
