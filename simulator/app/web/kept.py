"""Sessions kept between questions: few, by content, each used by one question at a time."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from threading import Lock
from typing import Any, NamedTuple

from simulator.app.web.controls import amounts
from simulator.app.web.view import View
from simulator.bounded import Bounded, bytes_reached, give_back
from simulator.camera.in_scene import Mode
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.scene.load import Scene
from simulator.scene.model import SceneModel
from simulator.scene.radiosity.field import LightField, moved_on, rough
from simulator.studies.session import Session, open_session

Pair = tuple[Scene, Camera]
MOST_SESSIONS = 3
"""Sessions kept."""
MOST_BYTES = 250_000_000
"""Bytes of all sessions kept; the one that was asked for last stays, however large."""
MOST_KNOWN = 32
"""Views of which it is known what makes a new session necessary."""
MOST_SEEN = 2
"""Scenes whose world and bounced light, as they were looked at last, serve for a first glance."""
MOST_PROOF_BYTES = 60_000_000
"""Proved answers kept, by the length of their pictures, so that undo is at once: a dozen of two
megapixels, a few of eight."""


class _Entry:
    """A session before the lights as written, and what is asked of it one after the other."""

    def __init__(self) -> None:
        self.lock = Lock()
        self.session: Session | None = None
        self.asked: tuple[str, Session] | None = None
        """The view that was asked about last, and its session: the next step asks of it again."""


def _length(row: dict[str, Any]) -> int:
    """Characters of an answer's texts, of which pictures are nearly all."""
    return sum(len(part) for part in row.values() if isinstance(part, str))


class Kept:
    """The sessions that were asked for last.

    A change of nothing but how strong lights are re-weighs what was traced (`Session.relit`).
    """

    def __init__(self, most: int = MOST_SESSIONS, most_bytes: int = MOST_BYTES) -> None:
        self.most, self.most_bytes = most, most_bytes
        self._entries: OrderedDict[str, _Entry] = OrderedDict()
        self._known: Bounded[_Held] = Bounded(MOST_KNOWN)
        self._opened: Bounded[Pair] = Bounded(MOST_KNOWN)
        self._seen: Bounded[_Seen] = Bounded(MOST_SEEN)
        self._proofs: Bounded[dict[str, Any]] = Bounded(MOST_PROOF_BYTES, _length)
        self._lock = Lock()

    @contextmanager
    def session(self, view: View, folder: Path) -> Iterator[Session]:
        """A view's session, for one question at a time.

        Bounced light is looked at roughly: a first look is, and the proof makes its own.

        Raises
        ------
        InputError
            For a file, key or value that is at fault.
        """
        held = self._held(view, folder)
        base = _without(view, frozenset(held.keys))
        entry = self._entry(base.key)
        with entry.lock, rough():
            if entry.session is None:
                entry.session = self._open(base, folder)
            if entry.asked is None or entry.asked[0] != view.key:
                entry.asked = view.key, held.of(entry.session)
            yield entry.asked[1]
            self._seen.put(_place(view), _Seen.of(entry.session, entry.asked[1]))

    def _open(self, view: View, folder: Path) -> Session:
        """A new session; before the world that was looked at last where nothing in it is other."""
        scene, camera = self.opened(view, folder)
        before = self._seen.get(_place(view))
        same = before is not None and before.model == scene.model
        world = before.field.world if before is not None and same else None
        return open_session(scene, camera, seed=view.seed, world=world)

    def glance(self, view: View, folder: Path) -> Session | None:
        """A session for a first glance, under the bounced light of what was looked at before and in
        its mode, where the lights are as they were; None where the view's own session is there, or
        nothing like it was looked at.

        Raises
        ------
        InputError
            For a file, key or value that is at fault.
        """
        base = _without(view, frozenset(self._held(view, folder).keys))
        with self._lock:
            known = self._entries.get(base.key)
        before = self._seen.get(_place(view))
        if before is None or (known is not None and known.session is not None):
            return None
        session = self._open(view, folder)
        field = moved_on(before.field, session.mounted.world)
        if field is None:
            return None
        mode = before.mode if before.lit == _lit(session) else None
        return replace(session, mounted=session.mounted.under(field), mode=mode)

    def _held(self, view: View, folder: Path) -> _Held:
        """What of a view's changes needs no new session; found once for all steps of an answer."""
        known = self._known.get(view.key)
        if known is None:
            known = self._known.put(view.key, _held(view, lambda v: self.opened(v, folder)))
        return known

    def opened(self, view: View, folder: Path) -> Pair:
        """Scene and camera of a view, read once for all steps of its answers.

        Raises
        ------
        InputError
            For a file, key or value that is at fault.
        """
        known = self._opened.get(view.key)
        return self._opened.put(view.key, view.opened(folder)) if known is None else known

    def _entry(self, key: str) -> _Entry:
        """The entry of a session, the others given up that are too many or too large together."""
        with self._lock:
            known = self._entries.pop(key, None)
            entry = known or _Entry()
            gone = 0
            if known is None:  # a session that is opened grows little, so it is weighed only now
                while self._entries and not self._fits():
                    self._entries.popitem(last=False)
                    gone += 1
            self._entries[key] = entry
        if gone:
            give_back()
        return entry

    def _fits(self) -> bool:
        """Whether one more session may be opened beside those that are kept."""
        together = bytes_reached([entry.session for entry in self._entries.values()])
        return len(self._entries) < self.most and together <= self.most_bytes

    def proof(self, key: str) -> dict[str, Any] | None:
        """The proved answer to a view, if it is kept."""
        return self._proofs.get(key)

    def put_proof(self, key: str, row: dict[str, Any]) -> dict[str, Any]:
        """Keep a proved answer; the one that was not asked for longest makes room."""
        return self._proofs.put(key, row)

    def __len__(self) -> int:
        return len(self._entries)


class _Seen(NamedTuple):
    """What serves for a first glance at something like it.

    `model` of the scene that `field` is the light field of, and the `mode` that the camera chose by
    the lights `lit`.
    """

    model: SceneModel
    field: LightField
    mode: Mode
    lit: tuple[object, ...]

    @classmethod
    def of(cls, session: Session, asked: Session) -> _Seen:
        """Of a session, and of the one with lights dimmed that was asked."""
        field = session.mounted.light_field
        if field.world is not session.mounted.world:  # the field of a world of the same content
            field = replace(field, world=session.mounted.world)
        return cls(session.scene.model, field, asked.state.mode, _lit(asked))


def _lit(session: Session) -> tuple[object, ...]:
    """What a camera chooses its mode by, but for where things stand."""
    strengths = [light.strength for light in session.mounted.world.lights]
    return session.scene.model.natural_light, strengths, session.camera.model.day_night


def _place(view: View) -> tuple[str, str]:
    """The scene's file of a view."""
    return view.scene, view.scene_text


@dataclass
class _Held:
    """Changes of a view that only say how strong lights are, or for how long it exposes."""

    keys: set[str] = field(default_factory=set)
    lux: float | None = None
    lamps: dict[str, float] = field(default_factory=dict)
    shutter_s: float | None = None

    def of(self, session: Session) -> Session:
        """The session with these changes."""
        if self.lux is not None or self.lamps:
            session = session.relit(self.lux, self.lamps)
        if self.shutter_s is not None:
            session = session.with_exposure(shutter_s=self.shutter_s)
        return session


def _held(view: View, opened: Callable[[View], Pair]) -> _Held:
    """Which changes only dim lights that are there without them too, or hold the shutter.

    Raises
    ------
    InputError
        For a file, key or value that is at fault.
    """
    scene, camera = opened(view)
    dims = amounts(scene.model)
    asked = {key for key in view.changes if key in dims or key in ("lux", "shutter")}
    if not asked:
        return _Held()
    try:
        written, without = opened(_without(view, frozenset(asked)))
    except InputError:  # the file is only whole with them
        return _Held()
    out = _dimmed(asked - {"shutter"}, scene, written)
    shutter_s = camera.model.exposure.shutter_s
    if "shutter" in asked and shutter_s is not None and without.model.exposure.gain_db is None:
        out.keys.add("shutter")
        out.shutter_s = shutter_s
    return out


def _dimmed(asked: set[str], scene: Scene, written: Scene) -> _Held:
    """Which of these changes dim lights that the scene as written has too."""
    dims = amounts(scene.model)
    before = amounts(written.model)
    out = _Held()
    for key in asked - {"lux"}:
        now, then = _value(scene, key), _value(written, key)
        if key in before and now is not None and then:
            out.keys.add(key)
            out.lamps[dims[key]] = now / then
    natural, own = scene.model.natural_light, written.model.natural_light
    if "lux" in asked and natural is not None and own is not None and own.illuminance_lux:
        out.keys.add("lux")
        out.lux = natural.illuminance_lux
    return out


def _value(scene: Scene, key: str) -> float | None:
    """A number of a named entry of the scene."""
    table, _, rest = key.partition(".")
    name, _, field = rest.rpartition(".")
    entries: Any = getattr(scene.model, table, ())
    named = next((entry for entry in entries if entry.name == name), None)
    value = getattr(named, field, None)
    return None if value is None else float(value)


def _without(view: View, keys: frozenset[str]) -> View:
    """The view without some of its changes."""
    return replace(view, changes={k: v for k, v in view.changes.items() if k not in keys})
