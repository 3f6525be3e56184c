"""New scene and camera files from a few answers."""
