"""The registry of levers, and those of a site.

Every step of a lever is a list of `key=value` texts as `--set` takes them, so that what is found
can be applied as it stands.
"""

from __future__ import annotations

from simulator.registry import Registry
from simulator.studies.remedies.equipment import EQUIPMENT
from simulator.studies.remedies.lever import Lever, LeverKind, Site
from simulator.studies.remedies.settings import SETTINGS

LEVERS: Registry[LeverKind] = Registry("lever", "key", (*SETTINGS, *EQUIPMENT))


def levers(site: Site) -> list[Lever]:
    """All levers that this scene and camera have, in the order of effort."""
    every = [lever for kind in LEVERS for lever in kind.levers(site)]
    return sorted(every, key=lambda lever: lever.effort)
