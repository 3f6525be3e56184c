"""One scene before one camera, settled: what every study judges, opened in one place.

A session fixes the moment that is judged. The target stands where the scene file puts it, and the
frames of a rolling shutter take their moment from the target's own row. Exposure, target, the light
of the whole picture and the quantiser of the stream are found when they are first asked for, and
kept.

A session is never changed. `relit`, `with_exposure` and `with_seed` give another one that shares
what was traced: a layer for every light of the target's part of the picture (`light_layers`). The
camera settles anew on the light of each, on small pictures that are weighed anew as well. Only the
whole picture is traced again: it interpolates even parts by what lights them, so that layers of it
would add up only nearly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property

import numpy as np

from simulator.camera.frame_buffer import exposed_regions
from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.camera.recording import recorded
from simulator.camera.region_plan import RegionPlan
from simulator.judge.colour_naming import Naming
from simulator.judge.cycles import Cycles
from simulator.judge.quick_look import quick_probability
from simulator.judge.readers import reader_of
from simulator.judge.silhouette import seen_silhouette
from simulator.judge.target import JudgedText
from simulator.judge.tasks import judge_task
from simulator.judge.trials import Probability, quick_stray_light, read_probability, region_buffer
from simulator.light.sources import NATURAL
from simulator.plain import whole_number
from simulator.scene.load import Scene
from simulator.scene.relit import over_natural, relit as relit_world
from simulator.scene.world import World
from simulator.studies.placing import placed
from simulator.studies.settled import TEXTS, SettledScene
from simulator.studies.target_room import TargetElectrons, TargetPictures, room_around
from simulator.units import Image

TRIALS = 90


Judgement = Probability | Cycles | Naming
"""Probability of a task, with its interval, as `probability` of a session gives it."""


class Session(SettledScene):
    """A scene before a camera; `open_session` makes it.

    Attributes
    ----------
    mounted
        The camera in its scene with its iris open, as it meters.
    seed
        Steers all noise.
    mode
        Day or night, if it is forced; otherwise the camera decides.
    before
        The mode in which the camera stays between its thresholds.
    strengths
        By how much lights are stronger than the scene's file has them, by their owner
        (`scene.relit`).
    room
        Room around the target in its pictures, as a share of its larger side.
    """

    def probability(self, trials: int = TRIALS, *, proof: bool = False) -> Judgement:
        """The judgement of the scene's task, with its sampling interval.

        A text is read in the finely traced part of the picture that holds it, and so are `TEXTS`
        random ones on the same board; other tasks, and a recorded stream, need the whole picture.

        Parameters
        ----------
        trials
            Repetitions of the camera of a text, with `proof`; other tasks take their own number.
        proof
            Whether the task's own reader reads the pictures, however long it takes; else its quick
            estimate tells how often it would.

        Returns
        -------
        `value` with its interval `low` to `high` [1], `trials`, and what else the task tells.

        Raises
        ------
        InputError
            For a target that cannot be seen, or a scene without light.
        """
        trials = whole_number(trials, "trials", 1)
        task, state, target = self.scene.model.task, self.coded, self.target
        if isinstance(target, JudgedText):
            reader = reader_of(task.reader)
            if not proof:
                return quick_probability(
                    self.in_scene, state, target, reader, seed=self.seed, traces=self.traces,
                    others=self.others,
                )  # fmt: skip
            return read_probability(
                self.in_scene, state, target, seed=self.seed, trials=trials, texts=TEXTS,
                named=False, reader=reader, traces=self.traces, others=self.others,
            )  # fmt: skip
        silhouette = seen_silhouette(self.in_scene, self.part, self.motion_blur_px, self.scene.file)
        return judge_task(
            self.in_scene, state, self.part, silhouette, self.whole.rates, task.name,
            seed=self.seed,
        )  # fmt: skip

    def pictures(self, count: int = 1) -> TargetPictures:
        """Pictures of the target with some room, as the camera delivers them, behind its codec.

        Parameters
        ----------
        count
            How many repetitions, each with noise of its own.
        """
        count = whole_number(count, "count", 1)
        frames = recorded(
            self.in_scene, self.coded, self._shown, seed=self.seed, frames=count,
            origin_px=self._room.box_px[:2],
        )  # fmt: skip
        return TargetPictures(frames, self._room.box_px, self.target.box_px)

    def closer(self, room: float) -> Session:
        """The same with pictures and light of what the task looks at alone: of a person to be known
        the head, of all else the whole.

        Parameters
        ----------
        room
            Room around it, as a share of its larger side.
        """
        if self.part is self.target:
            return self
        other = replace(self, room=room)
        other.__dict__.update(target=self.part, state=self.state, coded=self.coded)
        return other

    def near(self, pixel: tuple[int, int], reach_px: int) -> Session:
        """The same with pictures and light of what lies near one pixel of the target alone.

        Parameters
        ----------
        pixel
            Column and row in the whole picture, within the target's room.
        reach_px
            How far it reaches to every side, no farther than the room.
        """
        x0, y0, x1, y1 = self._room.box_px
        x, y = pixel
        box = (
            max(x0, x - reach_px), max(y0, y - reach_px),
            min(x1, x + reach_px + 1), min(y1, y + reach_px + 1),
        )  # fmt: skip
        other = replace(self)
        other.__dict__.update(
            target=self.target, state=self.state, coded=self.coded,
            _room=replace(self._room, box_px=box),
        )  # fmt: skip
        return other

    def electrons(self) -> TargetElectrons:
        """Mean light of one exposure on the target with some room, before any noise.

        With several exposures a frame it is that of the longest.
        """
        rate = self._lit_now[:, :, :3]
        shutter = self.state.exposure.shutter_s
        return TargetElectrons(rate * np.float32(shutter), self._room.box_px, self.target.box_px)

    @cached_property
    def _room(self) -> RegionPlan:
        return room_around(self.in_scene, self.state, self.target, self.room)

    @cached_property
    def _lit_now(self) -> Image:
        """Light of `_room` in the shown frame alone [e-/s]."""
        if "_shown" in self.__dict__:
            return self._shown[-1]
        stray_light = quick_stray_light(self.in_scene, self.state)
        return exposed_regions(
            self.in_scene, self.state.mode, self.state.exposure.shutter_s, self._room, stray_light,
            [0.0], self.traces,
        )[0]  # fmt: skip

    @cached_property
    def _shown(self) -> list[Image]:
        """Light of `_room` in every frame that the camera remembers, oldest first [e-/s]."""
        stray_light = quick_stray_light(self.in_scene, self.state)
        return region_buffer(self.in_scene, self.state, self._room, stray_light, self.traces)

    def relit(
        self,
        lux: float | None = None,
        lamps: Mapping[str, float] | None = None,
        *,
        every: float = 1.0,
    ) -> Session:
        """The same before the scene's own lights at other strengths; the camera settles anew.

        What it answers is what a fresh session of the changed scene answers, within the rounding of
        32-bit floats.

        Parameters
        ----------
        lux
            Natural illuminance of level ground in the open [lx], as `natural_light.illuminance_lux`
            says it in a scene: sky, sun and moon, and what the ground throws back of them, keep
            their shares and spectra. Without it natural light goes with `every`.
        lamps
            Strength by name of a lamp, illuminator or opening that is on, or of a vehicle with its
            lights on: 1 is as in the scene, 0 off. Those that are not named go with `every`.
        every
            Strength of all light that is not named, infrared too.

        Returns
        -------
        A session; strengths are over the scene as written, whatever was relit before.

        Raises
        ------
        InputError
            For a light that is not there, a strength that is not possible, or `lux` of a scene
            without natural light.
        """
        base = self.mounted.written or self.mounted
        openings = {
            o.opening.name for o in base.world.openings if o.opening.luminance_ratio is not None
        }
        owners = dict.fromkeys(light.owner for light in base.world.lights)
        strengths = {} if every == 1.0 else {o: every for o in owners if o not in openings}
        strengths |= lamps or {}
        if lux is not None:
            strengths[NATURAL] = over_natural(base.world, lux)
        world = relit_world(base.world, strengths, np.asarray(base.station.position_m))
        other = replace(self, mounted=base.relit(world), strengths=strengths)
        if "target" in self.__dict__:  # where it lies does not depend on light
            other.__dict__["target"] = self.target
        return other

    def with_exposure(
        self, *, shutter_s: float | None = None, gain_db: float | None = None
    ) -> Session:
        """The same with shutter, gain or both held; what is not given the camera chooses.

        Parameters
        ----------
        shutter_s
            Shutter [s].
        gain_db
            Gain [dB].

        Raises
        ------
        InputError
            For a value that the camera does not allow.
        """
        held = {"exposure.shutter_s": shutter_s, "exposure.gain_db": gain_db}
        camera = self.camera.set(held)
        return replace(
            self, camera=camera, mounted=self.mounted.with_exposure(camera.model.exposure)
        )

    def with_seed(self, seed: int) -> Session:
        """The same under other noise."""
        return replace(self, seed=seed)


def open_session(
    scene: Scene,
    camera: Camera,
    *,
    seed: int = 0,
    world: World | None = None,
    mounted: CameraInScene | None = None,
) -> Session:
    """Open a scene before a camera.

    Parameters
    ----------
    scene, camera
        What stands there, and what looks at it.
    seed
        Steers every random draw.
    world
        The world of this scene, if it is built already.
    mounted
        The same camera at the same place before the same world, with any settings, if there is one:
        its light is shared.

    Returns
    -------
    Session
        The scene before the camera; exposure, target and light are found when they are asked for.

    Raises
    ------
    InputError
        For a scene that cannot be built. What is asked of the session may raise more.

    Examples
    --------
    >>> from simulator import Camera, Scene, open_session
    >>> at = open_session(Scene.load("yard-noon"), Camera.load("fixed-2mp-lowlight"))
    >>> at.state.mode
    'day'
    """
    scene, camera = Scene.of(scene, "scene"), Camera.of(camera, "camera")
    seed = whole_number(seed, "seed")
    if mounted is None:
        mounted = placed(scene.model, camera.model, world=world)
    else:
        update = {"lens": mounted.camera.lens}  # focused as it stands
        mounted = mounted.with_settings(camera.model.model_copy(update=update))
    return Session(scene, camera, mounted, seed)
