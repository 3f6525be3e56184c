"""Targets drawn as cards of materials."""
