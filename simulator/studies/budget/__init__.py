"""The light budget: from the lamp or the sky to the level on the display, factor by factor."""
