"""Sessions kept between questions: few, by content, each used by one question at a time."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from threading import Lock
from typing import Any

from simulator.app.web.controls import amounts
from simulator.app.web.view import View
from simulator.errors import InputError
from simulator.scene.load import Scene
from simulator.scene.radiosity.field import rough
from simulator.studies.session import Session, open_session

MOST_SESSIONS = 4
"""Sessions kept, some 100 MB each."""
MOST_PROOFS = 12
"""Proved answers kept, a picture of some megabytes each, so that undo is at once."""


class _Entry:
    """A session before the lights as written, and what is asked of it one after the other."""

    def __init__(self) -> None:
        self.lock = Lock()
        self.session: Session | None = None


class Kept:
    """The sessions that were asked for last.

    A change of nothing but how strong lights are re-weighs what was traced (`Session.relit`).
    """

    def __init__(self, most: int = MOST_SESSIONS) -> None:
        self.most = most
        self._entries: OrderedDict[str, _Entry] = OrderedDict()
        self._proofs: OrderedDict[str, dict[str, Any]] = OrderedDict()
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
        scene, _ = view.opened(folder)
        dimmed = _dimmed(view, scene, folder)
        plain = frozenset(dimmed.keys)
        entry = self._entry(_key(view, plain))
        with entry.lock, rough():
            if entry.session is None:
                entry.session = open_session(*view.opened(folder, plain), seed=view.seed)
            base = entry.session
            yield base.relit(dimmed.lux, dimmed.lamps) if plain else base

    def _entry(self, key: str) -> _Entry:
        with self._lock:
            entry = self._entries.pop(key, None) or _Entry()
            self._entries[key] = entry
            while len(self._entries) > self.most:
                self._entries.popitem(last=False)
            return entry

    def proof(self, key: str) -> dict[str, Any] | None:
        """The proved answer to a view, if it is kept."""
        with self._lock:
            if key in self._proofs:
                self._proofs.move_to_end(key)
            return self._proofs.get(key)

    def put_proof(self, key: str, row: dict[str, Any]) -> dict[str, Any]:
        """Keep a proved answer; the one that was not asked for longest makes room."""
        with self._lock:
            self._proofs[key] = row
            while len(self._proofs) > MOST_PROOFS:
                self._proofs.popitem(last=False)
        return row

    def __len__(self) -> int:
        return len(self._entries)


class _Dimmed:
    """Changes of a view that only say how strong lights are."""

    def __init__(self, keys: set[str], lux: float | None, lamps: Mapping[str, float]) -> None:
        self.keys, self.lux, self.lamps = keys, lux, lamps


def _dimmed(view: View, scene: Scene, folder: Path) -> _Dimmed:
    """Which changes only dim lights that are there without them too."""
    dims = amounts(scene.model)
    asked = {key for key in view.changes if key in dims or key == "lux"}
    if not asked:
        return _Dimmed(set(), None, {})
    try:
        written, _ = view.opened(folder, frozenset(asked))
    except InputError:  # the file is only whole with them
        return _Dimmed(set(), None, {})
    before = amounts(written.model)
    keys: set[str] = set()
    lamps: dict[str, float] = {}
    for key in asked - {"lux"}:
        now, then = _value(scene, key), _value(written, key)
        if key in before and now is not None and then:
            keys.add(key)
            lamps[dims[key]] = now / then
    lux: float | None = None
    natural, own = scene.model.natural_light, written.model.natural_light
    if "lux" in asked and natural is not None and own is not None and own.illuminance_lux:
        keys.add("lux")
        lux = natural.illuminance_lux
    return _Dimmed(keys, lux, lamps)


def _value(scene: Scene, key: str) -> float | None:
    """A number of a named entry of the scene."""
    table, _, rest = key.partition(".")
    name, _, field = rest.rpartition(".")
    entries: Any = getattr(scene.model, table, ())
    found = next((entry for entry in entries if entry.name == name), None)
    value = getattr(found, field, None)
    return None if value is None else float(value)


def _key(view: View, but: frozenset[str]) -> str:
    """Hash of a view without some of its changes."""
    left = {key: value for key, value in view.changes.items() if key not in but}
    return View(view.scene, view.camera, view.scene_text, view.camera_text, left, view.seed).key
