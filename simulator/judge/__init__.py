"""Reads the frames that came out."""
