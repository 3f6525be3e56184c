"""Plan, side view and light of a scene, as a function."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from simulator.api.shown import Shown
from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies.overrides import load_pair
from simulator.studies.survey import site as study


class SitePlan(Shown, study.Site):
    """A scene as a site: where things stand, who lights the target, how the light lies.

    Attributes
    ----------
    rows
        Every light on the target's plane: illuminance [lx] or irradiance [W/m2], distance, angle.
    plane
        Light over the upright plane of the target.
    """

    def table(self) -> list[dict[str, Any]]:
        """One row for every light on the target's plane.

        Returns
        -------
        Rows that pandas takes.
        """
        return [asdict(row) for row in self.rows]

    def save(self, file: str | Path) -> Path:
        """Write the drawing as a PNG; an earlier picture of ours is replaced.

        Parameters
        ----------
        file
            Where it goes.

        Returns
        -------
        pathlib.Path
            The file.

        Raises
        ------
        OutputError
            If it cannot be written there, or another file is in the way.
        """
        from simulator.report.site import write_site

        write_site(Path(file), self)
        return Path(file)

    def _said(self) -> tuple[str, str]:
        return self.scene.model.title, (
            f"On the target's plane {self.lux:.3g} lx and {self.irradiance_w_m2:.3g} W/m² infrared."
        )


def show(scene: Scene | str | Path, camera: Camera | str | Path = "fixed-2mp-lowlight") -> SitePlan:
    """Light and geometry of a scene, without rendering a picture.

    Parameters
    ----------
    scene, camera
        Objects, or files or bundled names to load them from.

    Returns
    -------
    SitePlan
        `save(file)` draws plan, side view and light.

    Raises
    ------
    InputError
        For a scene or camera that is at fault.

    References
    ----------
    Inverse square and cosine laws with shadows; air by Koschmieder's law.

    Examples
    --------
    >>> from simulator import show
    >>> sum(row["illuminance_lux"] or 0.0 for row in show("yard-noon").table()) > 10_000
    True
    """
    plan = study.survey_site(*load_pair(scene, camera))
    return SitePlan.of(plan)
