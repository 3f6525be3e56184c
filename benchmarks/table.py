"""One table of what commands and answers take: processor time, wall time and memory, from one run.

Every row runs in a process of its own, so that its memory is its own; times of rows marked "inside"
are taken within it, after the first call, which compiles and traces. Processor time is that of all
threads and processes. Rows named on the command line are run alone:

    python benchmarks/table.py            all rows
    python benchmarks/table.py predict    those whose name holds a word
"""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from resource import RUSAGE_CHILDREN, RUSAGE_SELF, getrusage

ROOT = Path(__file__).parent.parent
CLI = "from simulator.app.cli import main; main()"
GATE, PLATE_CAMERA, OVERVIEW = "depot-gate-infrared", "plate-2mp-infrared", "fixed-2mp-lowlight"
SWEEP = (
    "sweep", GATE, "--camera", OVERVIEW, "--over", "natural_light.illuminance_lux=0.01:100:log25",
    "--over", "target.plate.speed_kmh=0:78:40",
)  # fmt: skip
CALENDAR = ("calendar", GATE, "--camera", OVERVIEW, "--place", "48.2,16.4", "--year", "2026")
SURVEY_CAMERAS = 200
INSIDE = "--inside"


@dataclass(frozen=True)
class Measured:
    """One row: processor and wall time [s], largest memory of a process [MB], first output [s]."""

    processor_s: float
    wall_s: float
    memory_mb: float
    first_s: float | None = None


def run(arguments: Sequence[str], **environment: str) -> Measured:
    """Measure a process from its start to its end, and when it first printed something."""
    before, began = getrusage(RUSAGE_CHILDREN), time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment}, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    first = process.stdout.readline()
    first_s = time.perf_counter() - began
    said, problem = process.communicate()
    wall = time.perf_counter() - began
    if process.returncode:
        raise RuntimeError(f"{arguments}: {problem.strip()}")
    if arguments[1:2] == [INSIDE]:
        return Measured(**json.loads(first + said))
    after = getrusage(RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Measured(used, wall, _peak_mb(problem), first_s if first else None)


def _peak_mb(text: str) -> float:
    """What a process said of its own memory at its end; nan if it said nothing."""
    said = [line for line in text.splitlines() if line.startswith("peak ")]
    return float(said[-1].split()[1]) if said else float("nan")


def command(*arguments: str, **environment: str) -> Measured:
    """Measure a command, its result in a folder that is thrown away."""
    code = (
        "import atexit, resource, sys; atexit.register(lambda: print('peak',"
        " resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, file=sys.stderr)); " + CLI
    )
    with tempfile.TemporaryDirectory() as folder:
        out = () if arguments[0] in {"warm", "--help"} else ("--out", f"{folder}/result")
        return run(["-c", code, *arguments, *out], **environment)


def cold() -> Measured:
    """Compile everything that predictions need, nothing kept from before."""
    with tempfile.TemporaryDirectory() as folder:
        return command("warm", NIGHTPROOF_CACHE_DIR=folder)


def survey() -> Measured:
    """A site of many cameras over the hours of a day."""
    with tempfile.TemporaryDirectory() as folder:
        site = Path(folder) / "site.csv"
        # no two alike, as at a real site: the target of each moves at a speed of its own
        rows = [
            f"camera {k},{GATE},{OVERVIEW},{10 * (k % 20)},{10 * (k // 20)},{k % 360},"
            f"target.plate.speed_kmh={5 + 0.1 * k}"
            for k in range(SURVEY_CAMERAS)
        ]
        head = "name,scene,camera,x_m,y_m,bearing_deg,set"
        site.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
        return command("survey", str(site))


def inside(name: str) -> Measured:
    """Measure a call in a process of its own, after a first one."""
    return run([__file__, INSIDE, name])


def _session(camera: str = OVERVIEW):  # type: ignore[no-untyped-def]
    from simulator import open_session  # noqa: PLC0415

    return open_session(GATE, camera)


def _question(change: Callable[[object, int], object]) -> Callable[[], Callable[[int], object]]:
    def prepare() -> Callable[[int], object]:
        session = _session()
        return lambda k: change(session, k).probability()  # type: ignore[attr-defined]

    return prepare


def _frame(columns: int = 1920, lamps: int = 0) -> Callable[[], Callable[[int], object]]:
    """The light of a whole frame, from tracing to glare."""

    def prepare() -> Callable[[int], object]:
        from simulator import Camera, Scene, open_session  # noqa: PLC0415
        from simulator.camera.light_field import frame_light  # noqa: PLC0415

        camera = Camera.load(OVERVIEW)
        pitch = camera.model.sensor.pixel_pitch_um * 1920 / columns
        camera = camera.set({
            "sensor.width_px": columns, "sensor.height_px": columns * 9 // 16,
            "sensor.pixel_pitch_um": pitch,
        })  # fmt: skip
        scene = Scene.load(GATE)
        if lamps:
            table = scene.table()
            table["lamp"] = [
                {"name": f"lamp {k}", "spectrum": "led-3000k", "intensity_cd": 50.0,
                 "beam_deg": 110.0, "position_m": [4.0 + k, 20.0, 5.0], "aim_m": [0.0, 18.0, 0.0]}
                for k in range(lamps)
            ]  # fmt: skip
            scene = Scene.from_dict(table)
        session = open_session(scene, camera)
        at, state = session.in_scene, session.state
        return lambda k: frame_light(at, state.mode, state.exposure.shutter_s)

    return prepare


def _repeat() -> Callable[[int], object]:
    """The same light with new noise, through the whole processing."""
    from simulator.camera.pipeline import shoot  # noqa: PLC0415

    session = _session()
    at, state, rates = session.in_scene, session.state, session.whole.rates[-1:]
    return lambda k: shoot(at, state, rates, seed=k)


def _whole_frame() -> Callable[[int], object]:
    """A whole picture from tracing to eight bits."""
    from simulator.camera.light_field import frame_light  # noqa: PLC0415
    from simulator.camera.pipeline import shoot  # noqa: PLC0415

    session = _session()
    at, state = session.in_scene, session.state

    def make(k: int) -> object:
        rate = frame_light(at, state.mode, state.exposure.shutter_s).rate
        return shoot(at, state, [rate], seed=k)

    return make


def _plain_frame() -> Callable[[int], object]:
    """The same steps put together from OpenCV and scipy."""
    import numpy as np  # noqa: PLC0415
    from plain_frame import light, shot, textures  # noqa: PLC0415

    cards = textures()
    return lambda k: shot(light(cards, 1920, 1080), np.random.default_rng(k))


def _relight() -> Callable[[int], object]:
    """The kept layers of the target's part of the picture under other strengths."""
    session = _session()
    session.relit(every=1.5).electrons()
    return lambda k: session.relit(every=1.0 + 0.1 * k).electrons()


CALLS: dict[str, Callable[[], Callable[[int], object]]] = {
    "session: shutter": _question(lambda s, k: s.with_exposure(shutter_s=1 / (200 + 50 * k))),
    "session: lux": _question(lambda s, k: s.relit(lux=0.02 * 2.0**k)),
    "session: infrared": _question(lambda s, k: s.relit(lamps={"mast infrared": 0.9**k})),
    "relight, target's part": _relight,
    "noise-only repeat, 1080p": _repeat,
    "frame, 1080p": _whole_frame,
    "frame, 1080p, plain composition": _plain_frame,
    "frame light, 0.5 MP": _frame(960),
    "frame light, 2 MP": _frame(1920),
    "frame light, 8 MP": _frame(3840),
    "frame light, 2 MP, 4 lamps": _frame(1920, 4),
    "frame light, 2 MP, 16 lamps": _frame(1920, 16),
}
ROWS: dict[str, Callable[[], Measured]] = {
    "imports of predict": lambda: run(["-c", "import simulator.api.prediction"]),
    "--help": lambda: command("--help"),
    "cold: warm": cold,
    "predict, legible": lambda: command("predict", GATE, "--camera", PLATE_CAMERA),
    "predict, legible, plain": lambda: command(
        "predict", GATE, "--camera", PLATE_CAMERA, "--no-tolerances", "--no-reserve"
    ),
    "predict, not legible": lambda: command("predict", GATE, "--camera", OVERVIEW),
    **{name: (lambda name=name: inside(name)) for name in CALLS},  # type: ignore[misc]
    "sweep, 1000 points": lambda: command(*SWEEP),
    "sweep, 1000 points, 1 worker": lambda: command(*SWEEP, "--workers", "1"),
    "calendar, 8760 h": lambda: command(*CALENDAR),
    f"survey, {SURVEY_CAMERAS} cameras": survey,
}
CALLS_EACH = 6


def measure_inside(name: str) -> None:
    """Print the least of some calls as JSON."""
    call = CALLS[name]()
    call(0)
    found = []
    for k in range(1, CALLS_EACH + 1):
        used, began = time.process_time(), time.perf_counter()
        call(k)
        found.append((time.process_time() - used, time.perf_counter() - began))
    peak = getrusage(RUSAGE_SELF).ru_maxrss / 1024
    least = [min(column) for column in zip(*found, strict=True)]
    print(json.dumps({"processor_s": least[0], "wall_s": least[1], "memory_mb": peak}))


def slope(few: Measured, many: Measured, times: float) -> float:
    """Exponent n of a cost that grows as the n-th power."""
    return math.log(many.processor_s / few.processor_s) / math.log(times)


def main(words: Sequence[str]) -> None:
    """Print the table."""
    print(f"load average {os.getloadavg()[0]:.1f}, {os.cpu_count()} processors")
    print(f"{'':34}{'processor':>11}{'wall':>9}{'first':>9}{'memory':>10}")
    done: dict[str, Measured] = {}
    for name, make in ROWS.items():
        if words and not any(word in name for word in words):
            continue
        row = done[name] = make()
        first = "" if row.first_s is None else f"{row.first_s:7.2f} s"
        times = f"{row.processor_s:9.3f} s{row.wall_s:7.2f} s{first:>9}"
        print(f"{name:34}{times}{row.memory_mb:7.0f} MB", flush=True)
    ours, plain = (done.get(name) for name in ("frame, 1080p", "frame, 1080p, plain composition"))
    if ours is not None and plain is not None:
        ratio = plain.processor_s / ours.processor_s
        print(f"the plain composition takes {ratio:.2f} times the processor time of a frame")
    sizes = ("frame light, 0.5 MP", "frame light, 8 MP", 16.0, "pixels")
    lamps = ("frame light, 2 MP, 4 lamps", "frame light, 2 MP, 16 lamps", 4.0, "lamps")
    for few, many, times, what in (sizes, lamps):
        if few in done and many in done:
            power = slope(done[few], done[many], times)
            print(f"cost of a frame's light grows as the {power:.2f}th power of its {what}")


if __name__ == "__main__":
    if sys.argv[1:2] == [INSIDE]:
        measure_inside(sys.argv[2])
    else:
        main(sys.argv[1:])
