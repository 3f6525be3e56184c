"""Measurements on charts."""
