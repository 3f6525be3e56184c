"""From photons to an eight-bit frame."""
