"""Designs as open sessions: focus at its best, exposures changed without new tracing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from simulator.judge.target import mean_wavelength_nm
from simulator.scene.load import Scene
from simulator.studies.focusing import best_focus_m
from simulator.studies.placing import placed
from simulator.studies.session import Session, open_session
from simulator.studies.specify.design import Design


def opened(scene: Scene, design: Design, seed: int) -> tuple[Design, Session]:
    """A design before its scene, focused where its own light is sharp on the target.

    Returns
    -------
    The design with its focus, and the session.

    Raises
    ------
    InputError
        For a design that cannot be built, or whose target cannot be seen.
    """
    session = open_session(*design.applied(scene), seed=seed)
    session.settle()
    wavelength = mean_wavelength_nm(session.in_scene, session.state, session.target)
    best = best_focus_m(session.in_scene, session.target.depth_m, wavelength)
    now = abs(_defocus_px(session, design.focus_m, wavelength))
    if now - abs(_defocus_px(session, best, wavelength)) > 0.2:
        design = replace(design, focus_m=best)
        session = open_session(*design.applied(scene), seed=seed)
    return design, session


def _defocus_px(session: Session, focus_m: float, wavelength_nm: float) -> float:
    in_scene = session.in_scene
    lens = in_scene.camera.lens.model_copy(update={"focus_m": focus_m})
    camera = in_scene.camera.model_copy(update={"lens": lens})
    there = replace(in_scene, camera=camera)
    return float(there.defocus_px(np.asarray(session.target.depth_m), wavelength_nm))


def reset(session: Session, scene: Scene, design: Design) -> Session:
    """The session with the exposure and wide range of another design, nothing else changed."""
    camera = design.applied(scene)[1]
    if camera.model.wide_range == session.camera.model.wide_range:
        mounted = session.mounted.with_exposure(camera.model.exposure)
    else:  # the lens stays, so that what is traced of single lights serves on
        mounted = placed(session.scene.model, camera.model, world=session.mounted.world)
    return replace(session, camera=camera, mounted=mounted)
