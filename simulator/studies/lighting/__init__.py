"""Sizes and justifies a lamp."""
