"""What the small picture that a camera meters by tells of a target, before anything is traced.

It is there already, for the camera has settled by it. Its levels tell what washes a target out, and
its electrons what noise alone rules out.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from simulator.camera.small_picture import meter_light
from simulator.scene.build_backlight import backlights_of
from simulator.scene.model_targets import Face, Person
from simulator.studies import trade
from simulator.studies.session import Session
from simulator.studies.specify.design import Design

BACKLIGHT_RATIO = 8.0
"""Luminance of an opening over that of the target from which on it counts as backlight.

A person whose clothes and skin throw back a fifth of the light stands 0.9 / 0.2 = 4.5 times below a
white wall in the same light, and no camera takes that for backlight; an opening must be about twice
as bright, three stops over the target, before the exposure that it draws costs the target (chosen
by us)."""
PLACES = 5
"""Places along each side of an opening at which it is asked whether the picture shows it."""
WHOLE, AIM = 0.8, 0.45
"""Share of white from which on a target counts as overexposed, and that to which it is taken back
(chosen by us: a face well exposed by the trade's rule has half of white)."""
GAIN_STEP_DB = 3.0
"""Steps in which a cap of the gain is set (chosen by us)."""
DETAIL = 0.3
"""Most contrast of a face's detail that is reckoned with (computed of our own drawn faces at fair
exposure: 0.08 to 0.15; twice as much to be on the safe side)."""
LEAST_DETECTABILITY = 8.0
"""Contrast over noise on the whole face below which nobody knows it: a viewer of one per cent
efficiency is left with less than one deviation (see `judge.people.KNOW`)."""


def backlit(session: Session) -> bool:
    """Whether the picture shows an opening that is much brighter than the target.

    A window onto the night, or one behind the camera, is none.
    """
    world, view = session.mounted.world, session.mounted.view
    backlights = backlights_of(world, session.entry.name, np.asarray(view.position_m))
    cards = {card.glow: card for card in world.cards if card.glow >= 0}
    share = (np.arange(PLACES) + 0.5) / PLACES
    for one, opening in zip(backlights, world.openings, strict=True):
        if one.ratio < BACKLIGHT_RATIO:
            continue
        card = cards[opening.panel]
        points = [card.point_m(a * card.width_m, b * card.height_m) for a in share for b in share]
        place, depth = view.project(np.array(points))
        inside = (depth > 0.0) & np.all((place >= 0) & (place <= 2.0 * view.middle_px), axis=1)
        if np.any(inside):
            return True
    return False


def exposure_of(session: Session) -> float:
    """Level of the target in the longest exposure [share of white]; 1 is full, and more is lost."""
    sensor = session.in_scene.camera.sensor
    gain = 10.0 ** (session.state.exposure.gain_db / 20.0)
    return electrons_of(session) * gain / sensor.full_well_e


def electrons_of(session: Session) -> float:
    """Median light on the target in the longest exposure, green channel [e- per pixel]."""
    rate = meter_light(session.in_scene, session.state.mode)
    view = session.in_scene.view
    down, across = rate.shape[0] / view.height_px, rate.shape[1] / view.width_px
    x0, y0, x1, y1 = session.part.box_px
    left, top = min(int(x0 * across), rate.shape[1] - 1), min(int(y0 * down), rate.shape[0] - 1)
    inside = rate[max(0, top) : max(int(y1 * down), top + 1), :, 1]
    inside = inside[:, max(0, left) : max(int(x1 * across), left + 1)]
    return float(np.median(inside)) * session.state.exposure.shutter_s


def overexposed(session: Session) -> bool:
    """Whether the target runs over white in the longest exposure."""
    return exposure_of(session) > WHOLE


def held_back(session: Session, design: Design) -> Design:
    """The design with gain, and then shutter, capped where the camera's own choice overexposes the
    target: as an installer sets them who looks at the face and not at the whole picture."""
    times = exposure_of(session)
    if times <= WHOLE:
        return design
    exposure = session.state.exposure
    over_db = 20.0 * np.log10(times / AIM)
    gain_db = max(0.0, np.floor((exposure.gain_db - over_db) / GAIN_STEP_DB) * GAIN_STEP_DB)
    left = times / AIM * 10.0 ** ((gain_db - exposure.gain_db) / 20.0)
    shutters = [s for s in trade.SHUTTERS_S if s <= 1.001 * exposure.shutter_s / left]
    shutter = design.shutter_s
    if left > 1.0 / AIM * WHOLE and shutters:
        shutter = min(shutter, max(shutters))
    return replace(design, gain_cap_db=min(design.gain_cap_db, gain_db), shutter_s=shutter)


def drowned(session: Session) -> bool:
    """Whether noise alone leaves too little of a face to know anybody by.

    With N electrons a pixel, read noise r and n pixels on the face, its detail of contrast C stands
    out by

        C N sqrt(n) / sqrt(N + r^2)

    deviations for an observer who misses nothing. Holds for faces; of all else nothing is said.
    """
    if not isinstance(session.entry, Face | Person) or session.scene.model.task.name == "detect":
        return False
    x0, y0, x1, y1 = session.part.box_px
    light, read = electrons_of(session), session.in_scene.camera.sensor.read_noise_e
    pixels = max((x1 - x0) * (y1 - y0), 1)
    return DETAIL * light * np.sqrt(pixels / (light + read**2)) < LEAST_DETECTABILITY
