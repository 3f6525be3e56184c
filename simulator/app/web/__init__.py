"""The workbench: a page on this computer that answers every change of scene and camera."""
