"""What a page is told of a view, step by step: first a coarse picture, at last the proof."""

from __future__ import annotations

import base64
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.app.web.controls import controls, table
from simulator.app.web.plan import described, seen_ground
from simulator.app.web.view import View
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.result import Verdict
from simulator.judge.target import JudgedTarget
from simulator.judge.verdict import verdict_word
from simulator.report.budget.words import lines as budget_lines, table as budget_table
from simulator.report.wording import capital, decibels, digits, f_number, percent, shutter
from simulator.report.wording.verdict import (
    change,
    customer_sentence,
    engineer_sentence,
    limit_effect,
    shown_word,
)
from simulator.scene.load import Scene
from simulator.studies.budget.study import budget_of
from simulator.studies.overview import coarse_picture, glance, passing
from simulator.studies.predict import Count, Result
from simulator.studies.session import Session

GLANCE_COLUMNS = 120
COARSE_COLUMNS = 240
CLOSE_COLUMNS = 480
MOST_CLOSE_PX = 60_000
"""Largest target that is shown pixel for pixel before the proof."""
Row = dict[str, Any]
FALLING = (4.0, 2.0, 1.0, 0.5, 0.25, 0.125, 0.0625)
"""Strengths of all light in the strip of falling light."""


def opened(
    view: View, scene: Scene, camera: Camera, written: tuple[Scene, Camera] | None = None
) -> Row:
    """What can be moved, and where everything stands; `written` as the files say it."""
    return {
        "step": "opened",
        "controls": table(controls(scene, camera, written)),
        "plan": described(scene, camera),
        "changes": dict(view.changes),
    }


def glanced(session: Session) -> Row:
    """The whole picture on very few pixels, and where the target is in it."""
    return {
        "step": "glance",
        "picture": data_address(glance(session, GLANCE_COLUMNS).picture),
        "target": target_box(session, session.target),
    }


def coarse(session: Session) -> Row:
    """The whole picture on few pixels, where the target is in it, and the exposure."""
    picture = coarse_picture(session, COARSE_COLUMNS)
    return {
        "step": "coarse",
        "picture": data_address(picture),
        "target": target_box(session, session.target),
        "exposure": exposure(session),
        "seen": seen_ground(session),
    }


def target_box(session: Session, target: JudgedTarget) -> list[float]:
    """The target's place as shares of the picture: left, top, right, bottom."""
    wide, high = session.mounted.view.width_px, session.mounted.view.height_px
    x0, y0, x1, y1 = target.box_px
    return [x0 / wide, y0 / high, x1 / wide, y1 / high]


def exposure(session: Session) -> list[list[str]]:
    """What the camera settled on, as pairs of a name and its value."""
    state = session.state
    exposed = state.exposure
    limited = exposed.limited_by.replace("-", " ")
    return [
        ["Mode", state.mode],
        ["Shutter", shutter(exposed.shutter_s)],
        ["Gain", decibels(exposed.gain_db)],
        ["Aperture", f_number(exposed.f_number)],
        ["At its limit", limited],
        ["Motion blur", f"{digits(session.motion_blur_px, 2)} px"],
    ]


def looks_quickly(session: Session) -> bool:
    """Whether a quick look at the target tells a probability: a text without a codec."""
    model = session.scene.model
    return model.task.name == "read" and session.camera.model.stream.codec == "none"


def closer(session: Session) -> Row:
    """The target enlarged."""
    return {"step": "closer", "picture": data_address(close_picture(session))}


def close_picture(session: Session) -> NDArray[np.uint8]:
    """The target with some room, pixel for pixel; one that fills much of the picture on larger
    pixels, which is enough to see it by and takes a fraction of time and memory."""
    x0, y0, x1, y1 = session.target.box_px
    if (x1 - x0) * (y1 - y0) <= MOST_CLOSE_PX:
        return session.pictures(1).frames[0]
    picture = coarse_picture(session, CLOSE_COLUMNS)
    wide, high = session.in_scene.view.width_px, session.in_scene.view.height_px
    across, down = picture.shape[1] / wide, picture.shape[0] / high
    return cut_out(
        picture, (round(x0 * across), round(y0 * down), round(x1 * across), round(y1 * down))
    )


def look(session: Session) -> Row:
    """For a text a quick estimate of the verdict; else nothing yet."""
    out: Row = {"step": "look", "quick": True}
    if looks_quickly(session):
        one = session.probability()
        task = session.scene.model.task
        word = verdict_word(one.value, one.low, one.high, task.wanted_probability)
        out |= _probability(word, task.name, one.value, one.low, one.high, task.wanted_probability)
    return out


def _probability(word: str, task: str, value: float, low: float, high: float, wanted: float) -> Row:
    return {
        "word": word,
        "shown": capital(shown_word(word, task)),
        "probability": value,
        "low": low,
        "high": high,
        "wanted": wanted,
    }


def counted(count: Count) -> Row:
    """How often the task's own judge succeeds; not yet what limits it."""
    return {
        "step": "counted",
        "quick": False,
        **_probability(
            count.word, count.task.name, count.value, count.low, count.high,
            count.task.wanted_probability,
        ),
    }  # fmt: skip


def pictured(frame: NDArray[np.uint8], box_px: tuple[int, int, int, int]) -> Row:
    """The whole picture."""
    return {"step": "pictured", **_pictured(frame, box_px)}


def _pictured(frame: NDArray[np.uint8], box_px: tuple[int, int, int, int]) -> Row:
    """The whole picture, the target in it, and where it is as shares of the picture."""
    high, wide = frame.shape[:2]
    x0, y0, x1, y1 = box_px
    return {
        "picture": data_address(frame),
        "closer": data_address(cut_out(frame, box_px)),
        "target": [x0 / wide, y0 / high, x1 / wide, y1 / high],
    }


def proof_row(result: Result, told: Row | None = None) -> Row:
    """The whole picture, the verdict as the task's own judge gives it, and what limits it.

    Parameters
    ----------
    result
        Of the prediction.
    told
        What `pictured` told of the same picture, whose encoding takes longer than all else here.
    """
    verdict = result.verdict
    return {
        **(told or _pictured(result.frame, verdict.target.box_px)),
        "step": "proved",
        "quick": False,
        **_probability(
            verdict.verdict, verdict.task.name, verdict.probability, verdict.probability_low,
            verdict.probability_high, verdict.task.wanted_probability,
        ),
        "customer": customer_sentence(verdict),
        "engineer": engineer_sentence(verdict),
        "limits": limits(verdict),
        "cautions": list(verdict.cautions),
        "input_hash": verdict.input_hash,
    }  # fmt: skip


def cut_out(frame: NDArray[np.uint8], box: tuple[int, int, int, int]) -> NDArray[np.uint8]:
    """The target with some room, pixel for pixel."""
    x0, y0, x1, y1 = box
    room = round(0.3 * max(x1 - x0, y1 - y0)) + 4
    return frame[
        max(0, y0 - room) : min(frame.shape[0], y1 + room),
        max(0, x0 - room) : min(frame.shape[1], x1 + room),
    ]


def limits(verdict: Verdict) -> list[Row]:
    """What limits the verdict, the most costly first."""
    rows = sorted(verdict.limits, key=lambda row: -row.share)
    return [
        {
            "name": capital(IMPAIRMENTS[row.factor].noun),
            "share": row.share,
            "told": f"{percent(row.share)}",
            "effect": limit_effect(row, verdict.probability, "customer"),
        }
        for row in rows
        if row.share > 0.005
    ]


def fixes(verdict: Verdict) -> Row:
    """Changes that help, each with what applies it."""
    rows = []
    for row in verdict.remedies:
        if not row.sets and row.camera is None:
            continue
        rows.append({
            "told": capital(change(row)),
            "probability": row.probability,
            "percent": percent(row.probability),
            "reaches": row.reaches,
            "sets": list(row.sets),
            "camera": row.camera,
            "effects": [*row.side_effects, *row.cautions],
        })  # fmt: skip
    return {"step": "fixes", "fixes": rows}


def falling(session: Session, strength: float) -> Row:
    """The target with all light stronger or weaker by a factor."""
    at = session.relit(every=strength) if strength != 1.0 else session
    out: Row = {
        "step": "falling",
        "strength": strength,
        "told": f"× {digits(strength)}",
        "picture": data_address(close_picture(at)),
        "mode": at.state.mode,
        "shutter": shutter(at.state.exposure.shutter_s),
        "gain": decibels(at.state.exposure.gain_db),
    }
    if looks_quickly(at):
        one = at.probability()
        out |= {"probability": one.value, "percent": percent(one.value)}
    return out


def passes(session: Session) -> Row:
    """The target in several frames of its pass."""
    return {
        "step": "passing",
        "frames": [
            {
                "picture": data_address(one.picture),
                "told": f"{one.time_s:+.2f} s",
                "distance": f"{digits(one.distance_m)} m",
            }
            for one in passing(session)
        ],
    }


def light_budget(session: Session) -> Row:
    """Where the light of the target's pixel goes, as a sentence, tables and a waterfall: what there
    was before each step of the first table, None where nothing was, and what is left."""
    budget = budget_of(session)
    told = budget_table(budget)
    return {
        "step": "budget", "answer": told["answer"], "tables": told["tables"],
        "waterfall": [[one.before, one.after] for one in budget_lines(budget)],
    }  # fmt: skip


def refusal(error: InputError) -> Row:
    """What is wrong and how to fix it; no path of this computer."""
    parts = {
        name: None if getattr(error, name) is None else str(getattr(error, name))
        for name in ("problem", "key", "given", "allowed", "fix")
    }
    return {"step": "refused", **parts}


def data_address(picture: NDArray[np.uint8]) -> str:
    """A picture as the address of an image: every pixel as it is.

    OpenCV writes it in half the time that Pillow takes, 0.18 s for two megapixels of noise.
    """
    _, png = cv2.imencode(".png", np.ascontiguousarray(picture[:, :, ::-1]))
    return "data:image/png;base64," + base64.b64encode(png.tobytes()).decode()
