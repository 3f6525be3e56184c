"""Solid bodies drawn by us: vehicles, people, and what stands about in yards and streets."""
