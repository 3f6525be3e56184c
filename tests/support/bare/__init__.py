"""Bundled scenes without what only furnishes them.

The same places, lights, targets and questions, but no posts, trees, parked cars and the like, whose
meshes take most of the time. For tests of how things are found, kept, written and told; what light
and bodies do to a verdict is tested on the bundled scenes themselves.
"""

from pathlib import Path


def bare(name: str) -> str:
    """The path of a bundled scene's bare form."""
    return str(Path(__file__).parent / f"{name}.toml")
