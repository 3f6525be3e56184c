"""The light budget of a target, as a function."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from simulator.api.shown import Report, Reported
from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies.budget import study
from simulator.studies.overrides import load_pair


class Budget(Reported, study.LightBudget):
    """The light of one pixel of the target, from its sources to the level on the display.

    Attributes
    ----------
    chains
        Every light, directly and bounced, the strongest first: its factors and what they leave.
    added
        Electrons of the air, of stray light, and of what blur and movement bring.
    electrons, rendered
        Electrons (3,) by channel: by the factors, and in the rendered picture.
    noise
        Terms of the noise of the pixel [e-].
    level
        Digital number and display level.
    """

    _COLUMNS = ("light", "step", "factor_green", "count_green", "unit")

    def table(self) -> list[dict[str, Any]]:
        """One row for every step of every light, then noise and levels: rows of budget.csv.

        Returns
        -------
        Rows that pandas takes.
        """
        from simulator.report.budget.words import rows

        return rows(self)

    def _report(self) -> Report:
        from simulator.report.budget.sheet import save_budget
        from simulator.report.budget.words import table

        return Report(table, save_budget)

    def _pictures(self) -> Mapping[str, Any]:
        return {}


def budget(scene: Scene | str | Path, camera: Camera | str | Path, *, seed: int = 0) -> Budget:
    """Follow the light of a target through air, lens and sensor to the display, factor by factor.

    Parameters
    ----------
    scene, camera
        Objects, or files or bundled names to load them from.
    seed
        Steers the noise of the delivered pictures whose mean level is told.

    Returns
    -------
    Budget
        Light by light its factors; `save(folder)` writes what the command writes.

    Raises
    ------
    InputError
        For a scene that cannot be built, lit or imaged; it names file and key.

    References
    ----------
    Radiance factor: CIE 17. Camera equation: textbooks, e.g. Holst, "CCD Arrays, Cameras, and
    Displays" (from memory). Photon energy h c / lambda with constants of CODATA. Noise: EMVA 1288,
    linear model.

    Examples
    --------
    >>> from simulator import budget
    >>> found = budget("yard-noon", "fixed-2mp-lowlight")
    >>> [round(float(found.chains[0].stage(name).factor[1]), 2) for name in ("cosine", "filter")]
    [0.4, 0.44]
    >>> bool(abs(found.electrons[1] / found.rendered[1] - 1) < 0.01)
    True
    """
    return Budget.of(study.light_budget(*load_pair(scene, camera), seed=seed))
