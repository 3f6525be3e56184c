"""Give every reader broken input and see that it reads or refuses it, and nothing else.

    python tools/fuzz.py [--seconds S] [--seed N] [--kept FOLDER] [READER ...]

Good files have a few things done to them (`fuzz_inputs.py`) and go through the reader that a
command would use. An `InputError` of at most 2 kB is a refusal; any other exception, a warning, a
longer message, or more than ten seconds for one input is a fault: its input is kept and the tool
ends with 1. `--seconds` is for each reader, ten minutes by default; all seconds are of the
processor, so that a busy machine tries as much and blames nobody. Readers take turns; Ctrl-C or
SIGTERM ends all of them and prints what was tried until then.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import math
import resource
import signal
import sys
import tempfile
import threading
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import FrameType

from fuzz_inputs import NUMBERS, changed, pictures
from hypothesis import HealthCheck, Phase, given, seed as seeded, settings

from simulator import Camera, Scene
from simulator.api.again import RUN, _asked
from simulator.app.web.view import View
from simulator.app.web.workspace import Workspace
from simulator.camera.model import CameraModel
from simulator.dotted import valid_keys
from simulator.errors import InputError
from simulator.files import bundled_folder
from simulator.judge.result import Verdict
from simulator.light.lamp_spectra import spectrum_of_text
from simulator.light.photometric_file import read_photometric_file
from simulator.report.document import render
from simulator.scene.materials import material_of_text
from simulator.scene.model import SceneModel
from simulator.scene.targets.photograph import read_photograph
from simulator.studies import manifest
from simulator.studies.answer_sheet import read_answers
from simulator.studies.axes import parse_axis
from simulator.studies.kept import kept_rows
from simulator.studies.overrides import set_pair
from simulator.studies.survey.site_file import SiteFile

ROOT = Path(__file__).resolve().parents[1]
LONGEST_MESSAGE = 2048
LONGEST_SECONDS = 10
HANGS_AFTER_SECONDS = 300
"""An input that waits for something uses no processor; this is time on the clock."""
MOST_MEMORY = 6 << 30
BATCH = 200
TURN_SECONDS = 20.0
Read = Callable[[bytes, Path], object]


class _TooLongError(Exception):
    pass


STOPPED = threading.Event()
"""Set by Ctrl-C or SIGTERM: the input at work is ended, the table is printed."""


def _toml(kind: str) -> tuple[bytes, ...]:
    folder = ROOT / "scenes" / "sites" if kind == "sites" else ROOT / "scenes"
    folder = folder if kind in ("sites", "scenes") else bundled_folder(kind)  # type: ignore[arg-type]
    return tuple(path.read_bytes() for path in sorted(folder.glob("*.toml")))


def _file(name: str, read: Callable[[Path], object]) -> Read:
    """Reads what is put in a file of that name."""

    def run(content: bytes, folder: Path) -> object:
        path = folder / name
        path.write_bytes(content)
        return read(path)

    return run


def _used(content: bytes, folder: Path, kind: str) -> object:
    """A lens or light profile, as a camera or scene takes it."""
    (folder / "used.toml").write_bytes(content)
    if kind == "lens":
        return Camera.load("fixed-2mp-lowlight", [f'lens.use="{folder}/used.toml"'])
    return Scene.load("depot-gate-infrared", [f'illuminator.extra.use="{folder}/used.toml"'])


def _beside(content: bytes, folder: Path, name: str, key: str) -> object:
    """A table beside a scene."""
    (folder / name).write_bytes(content)
    return Scene.from_dict(_GATE.table(), folder=folder).set({key: name})


def _set(content: bytes, _folder: Path) -> object:
    return set_pair(_GATE, _CAMERA, [content.decode("utf-8", "replace")])


def _sets() -> tuple[bytes, ...]:
    keys = valid_keys(SceneModel, _GATE.table()) + valid_keys(CameraModel, _CAMERA.table())
    return tuple(f"{key}={NUMBERS[n % 20]}".encode() for n, key in enumerate(keys))


def _over(content: bytes, _folder: Path) -> object:
    return parse_axis(content.decode("utf-8", "replace"))


def _resumed(content: bytes, folder: Path) -> object:
    (folder / "r.points.jsonl").write_bytes(content)
    with kept_rows(folder / "r.points.jsonl", study="sweep", run="1", known=["a"], resume=True):
        return None


def _report(content: bytes, folder: Path) -> object:
    (folder / "verdict.json").write_bytes(content)
    return render([folder], title="t", client="", author="")


def _spectrum(path: Path) -> object:
    return spectrum_of_text(path.read_bytes().decode("utf-8", "replace"), path)


def _material(path: Path) -> object:
    return material_of_text(path.read_bytes().decode("utf-8", "replace"), path)


def _tables(kind: str) -> tuple[bytes, ...]:
    folder = ROOT / "simulator" / "data" / kind
    return tuple(path.read_bytes()[:6000] for path in sorted(folder.glob("*.csv"))[:6])


def _asked_again(content: bytes, folder: Path) -> object:
    """The record of what was asked, as `rerun` reads it."""
    (folder / "inputs").mkdir()
    (folder / "inputs" / RUN).write_bytes(content)
    return _asked(folder, {"signal": {}, "scene": "s", "camera": "c", "seed": 1})


def _listed(content: bytes, folder: Path) -> object:
    """The list of a result's files, as a run into its folder reads it."""
    (folder / manifest.NAME).write_bytes(content)
    return manifest.written(folder, manifest.read_manifest(folder) or {})


def _page(content: bytes, folder: Path) -> object:
    """What a page of the workbench sends."""
    try:
        sent = json.loads(content)
    except (ValueError, RecursionError):
        return None  # the server refuses it before
    return View.of(sent).opened(folder)


def _views() -> tuple[bytes, ...]:
    changes = {"lux": 3, "lamp.yard lamp.on": False, "exposure.mode": "night", "gain": 12.5}
    texts = {"scene_text": _toml("scenes")[0].decode(), "camera_text": _toml("cameras")[0].decode()}
    sent = {
        "scene": "depot-gate-dark",
        "camera": "fixed-2mp-lowlight",
        "changes": changes,
        "seed": 1,
    }
    return json.dumps(sent).encode(), json.dumps(sent | texts | {"changes": {}}).encode()


_ASKED = json.dumps(
    {"remedies": True, "tolerances": True, "reserve": False, "raw": False, "cameras": ["a"]}
).encode()
_MANIFEST = json.dumps(
    {"schema_version": 1, "written_by": "nightproof", "files": {"a/b.png": "0" * 64}}
).encode()
_SITE = (
    b"name,scene,camera,x_m,y_m,bearing_deg,price,set,worst,typical\n"
    b"gate,depot-gate-dark,fixed-2mp-lowlight,1,2,90,300,station.height_m=3,,\n"
)
_KEPT = (
    b'{"format": 1, "study": "sweep", "run": "1"}\n{"run": "1", "point": "a", "row": {"x": 1.0}}\n'
)
_GATE = Scene.load("depot-gate-dark")
_CAMERA = Camera.load("fixed-2mp-lowlight")
_IES = tuple(p.read_bytes() for p in sorted((ROOT / "tests" / "light" / "data").glob("*.ies")))


@cache
def _verdicts() -> tuple[bytes, ...]:
    """Results of a prediction and of a study, made here."""
    from simulator import predict  # noqa: PLC0415  slow to import, and only this reader needs it

    bare = ROOT / "tests" / "support" / "bare" / "depot-gate-infrared.toml"
    small = Camera.load("plate-2mp-infrared").set(
        {"sensor.width_px": 480, "sensor.height_px": 270, "sensor.pixel_pitch_um": 11.6}
    )
    gate = predict(bare, small, remedies=False, tolerances=False, reserve=False).verdict.to_json()
    study = {
        "schema_version": 1, "study": "sweep", "title": "t", "question": "q", "answer": "a",
        "tables": [{"title": "t", "columns": ["a"], "rows": [[1]]}], "why": ["w"],
        "changes": ["c"], "conditions": ["c"], "cautions": ["c"],
    }  # fmt: skip
    return gate.encode(), json.dumps(study, indent=2).encode()


READERS: dict[str, tuple[Callable[[], tuple[bytes, ...]], Read]] = {
    "scene": (lambda: _toml("scenes"), _file("s.toml", Scene.load)),
    "camera": (lambda: _toml("cameras"), _file("c.toml", Camera.load)),
    "lens": (lambda: _toml("lenses"), lambda c, f: _used(c, f, "lens")),
    "light": (lambda: _toml("lights"), lambda c, f: _used(c, f, "light")),
    "site": (lambda: _toml("sites"), _file("s.toml", SiteFile.load)),
    "site-csv": (lambda: (_SITE,), _file("s.csv", SiteFile.load)),
    "set": (_sets, _set),
    "answers": (
        lambda: (b'picture,answer\np1.png,K2W8 R4D\np2.png,"a,b"\np3.png,\n',),
        _file("answers.csv", lambda path: read_answers(path, ["p1.png", "p2.png", "p3.png"])),
    ),
    "over": (
        lambda: (b"exposure.shutter_s=0.0001:0.02:log9", b"a.b=1:2:3", b"a=1,2,x"),
        _over,
    ),
    "spectrum": (lambda: _tables("spectra"), _file("s.csv", _spectrum)),
    "material": (lambda: _tables("reflectance"), _file("m.csv", _material)),
    "photometric": (lambda: _IES, _file("lamp.ies", read_photometric_file)),
    "photograph": (pictures, _file("p.png", lambda path: read_photograph(path, 0.9))),
    "resume": (lambda: (_KEPT,), _resumed),
    "report": (_verdicts, _report),
    "verdict": (_verdicts, _file("verdict.json", Verdict.read)),
    "asked": (lambda: (_ASKED,), _asked_again),
    "manifest": (lambda: (_MANIFEST,), _listed),
    "page": (_views, _page),
    "upload-scene": (lambda: _toml("scenes"), lambda c, f: Workspace(f).take("scene", "a", c)),
    "upload-light": (lambda: _IES, lambda c, f: Workspace(f).take("light", "a", c)),
    "upload-photo": (pictures, lambda c, f: Workspace(f).take("photo", "a", c)),
}
"""By name, its good inputs and the reader."""


def _too_long(_number: int, _frame: FrameType | None) -> None:
    raise _TooLongError


def _place(error: BaseException) -> str:
    """Where in the package an exception came from."""
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "/simulator/" in f.filename]
    if not frames:
        return type(error).__name__
    last = frames[-1]
    return f"{type(error).__name__} at {last.filename.rpartition('/simulator/')[2]}:{last.lineno}"


def _tried(read: Read, content: bytes) -> str:
    """What became of an input: "read", "refused", or the fault."""
    with tempfile.TemporaryDirectory(prefix="fuzz") as folder:
        signal.setitimer(signal.ITIMER_PROF, LONGEST_SECONDS)
        signal.setitimer(signal.ITIMER_REAL, HANGS_AFTER_SECONDS)
        try:
            read(content, Path(folder))
        except InputError as error:
            return "refused" if len(error.text()) <= LONGEST_MESSAGE else "message over 2 kB"
        except (Exception, _TooLongError) as error:
            return _place(error)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
            signal.setitimer(signal.ITIMER_REAL, 0)
    return "read"


class Fuzzed:
    """A reader and what became of its inputs so far.

    Parameters
    ----------
    name
        Of `READERS`.
    seed
        Of the first batch of inputs.
    kept
        Folder for inputs that end in a fault.
    """

    def __init__(self, name: str, seed: int, kept: Path | None) -> None:
        self.name, self.kept, self.batch = name, kept, seed * 1_000_000
        self.corpus, self.read = READERS[name]
        self.good: tuple[bytes, ...] = ()
        self.counts: Counter[str] = Counter()
        self.spent_s = 0.0

    def try_for(self, seconds: float) -> None:
        """Try inputs for some seconds of the processor."""
        self.good = self.good or self.corpus()
        begin = time.process_time()
        try:
            while time.process_time() < begin + seconds and not STOPPED.is_set():
                self._batch(begin + seconds)
        finally:
            self.spent_s += time.process_time() - begin

    def _batch(self, end: float) -> None:
        def one(content: bytes) -> None:
            if time.process_time() < end and not STOPPED.is_set():
                self._count(_tried(self.read, content), content)

        quiet = settings(
            max_examples=BATCH,
            phases=[Phase.generate],
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
        )
        seeded(self.batch)(quiet(given(changed(self.good))(one)))()
        self.batch += 1

    def _count(self, outcome: str, content: bytes) -> None:
        self.counts[outcome] += 1
        if (
            outcome not in ("read", "refused")
            and self.counts[outcome] == 1
            and self.kept is not None
        ):
            self.kept.mkdir(parents=True, exist_ok=True)
            (self.kept / f"{self.name}-{len(self.counts)}.txt").write_bytes(content)

    @property
    def faults(self) -> dict[str, int]:
        """How often inputs ended otherwise than read or refused."""
        return {k: n for k, n in sorted(self.counts.items()) if k not in ("read", "refused")}


def fuzz(tried: list[Fuzzed], seconds: float) -> None:
    """Give every reader its seconds of the processor, turn by turn."""
    turns = max(1, math.ceil(seconds / TURN_SECONDS))
    for _ in range(turns):
        for one in tried:
            one.try_for(seconds / turns)


def print_table(tried: list[Fuzzed]) -> int:
    """Print the counts; the number of faults."""
    print(f"{'reader':<13} {'seconds':>8} {'inputs':>8} {'read':>8} {'refused':>8} {'others':>8}")
    for one in tried:
        n = one.counts
        row = round(one.spent_s), n.total(), n["read"], n["refused"], sum(one.faults.values())
        print(f"{one.name:<13} " + " ".join(f"{value:>8}" for value in row))
        for what, count in one.faults.items():
            print(f"    {count} x {what}")
    total = sum(one.counts.total() for one in tried)
    faults = sum(sum(one.faults.values()) for one in tried)
    print(f"{total} inputs, {total - faults} read or refused, {faults} others")
    print("nothing lost" if not faults else f"lost: {faults}")
    return faults


def _stop(_number: int, _frame: FrameType | None) -> None:
    STOPPED.set()  # an exception here would end up within what draws the inputs


def main() -> None:
    """Try the readers that are named, or all."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("readers", nargs="*", help=f"of {', '.join(READERS)}; all by default")
    parser.add_argument(
        "--seconds", type=float, default=600.0, help="of the processor, for each reader [s]"
    )
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--kept", type=Path, help="folder for inputs that end in a fault")
    asked = parser.parse_args()
    for number in (signal.SIGALRM, signal.SIGPROF):
        signal.signal(number, _too_long)
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, _stop)
    warnings.simplefilter("error")
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    tried = [Fuzzed(name, asked.seed, asked.kept) for name in asked.readers or READERS]
    fuzz(tried, asked.seconds)
    sys.exit(1 if print_table(tried) else 0)


if __name__ == "__main__":
    main()
