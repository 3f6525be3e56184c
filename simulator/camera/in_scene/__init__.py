"""A camera before a world, in layers, each of which asks only those before it.

`optics` (view, response, lens), `light` (the lights in electrons of the camera), `settings` (others
share light and view), `textures` (something else drawn on a card), `moments` (what moves),
`placing` (the whole of it).
"""

from simulator.camera.in_scene.optics import REFERENCE_LIGHT, Mode, Switches
from simulator.camera.in_scene.placing import CameraInScene, place_camera

__all__ = ["REFERENCE_LIGHT", "CameraInScene", "Mode", "Switches", "place_camera"]
