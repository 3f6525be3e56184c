"""The world in metres: what a scene file says, materials, cards, geometry, radiance."""
