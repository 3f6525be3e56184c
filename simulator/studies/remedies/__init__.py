"""What would fix a picture: the search over levers."""
