"""End the commands in every bad way and see that nothing is lost.

    python tools/faults.py [--times N] [--seed S] [--folder DIR] [FAULT ...]

Faults: `kill` (SIGKILL and SIGTERM at N random moments of predict, sweep, survey, calendar and
report, ten by default; prints the longest time from signal to end), `twice` (two runs at once into
one folder), `disk` (disks of several sizes that fill up, and a read-only one; needs the right to
mount), `cluster` (a dask worker, then the scheduler, is killed).

After each fault the earlier result must be whole or the new one must be, a file of the user's must
be there, no process may be left after two seconds, and after the last one a usual run must end well
and leave nothing beside its result. Prints counts, and ends with 1 if something was lost.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from simulator.studies import manifest

COMMAND = (sys.executable, "-c", "from simulator.app.cli import main; main()")
QUICK = (
    "--set", "sensor.width_px=640", "--set", "sensor.height_px=360", "--set",
    "lens.focal_length_mm=5",
)  # fmt: skip
GATE = str(Path(__file__).resolve().parents[1] / "tests/support/bare/depot-gate-infrared.toml")
"""The gate without what only furnishes it: what is written is the same, in half the time."""
PAIR = (GATE, "--camera", "plate-2mp-infrared")
PREDICT = ("predict", *PAIR, *QUICK, "--no-remedies", "--no-tolerances", "--no-reserve")
STUDIES: dict[str, tuple[str, ...]] = {
    "predict": PREDICT,
    "sweep": (
        "sweep", *PAIR, *QUICK, "--over", "target.plate.speed_kmh=5,20,40", "--trials", "8",
        "--workers", "2",
    ),
    "survey": ("survey", "two", "--trials", "8", "--workers", "2"),
    "calendar": (
        "calendar", *PAIR, *QUICK, "--place",
        "48.2,16.4", "--year", "2025", "--nodes", "6", "--checks", "0", "--workers", "2",
    ),
    "report": ("report", "result", "--title", "t"),
}  # fmt: skip
POSITION = """
[[position]]
name = "{name}"
scene = "GATE"
camera = "plate-2mp-infrared"
x_m = 0.0
y_m = 0.0
bearing_deg = 0.0
set = ["sensor.width_px=640", "sensor.height_px=360", "lens.focal_length_mm=16", "speed=0"]
""".replace("GATE", GATE)
SITE = 'title = "Two"' + POSITION.format(name="a")
GONE_WITHIN_S = 2.0
ENDS_WITHIN_S = 8.0
"""A signal is heard within 0.7 s; then there are 5 s for putting things in order."""
INTERRUPTED, BAD_INPUT = 130, 2


class LostError(AssertionError):
    """Something was lost."""


def must(holds: bool, what: str) -> None:
    """Stop where something was lost."""
    if not holds:
        raise LostError(what)


def start(arguments: tuple[str, ...], cwd: Path) -> subprocess.Popen[bytes]:
    """A command in a process group of its own, so that what is left of it can be counted."""
    return subprocess.Popen(
        [*COMMAND, *arguments], cwd=cwd, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
        start_new_session=True,
    )  # fmt: skip


def left_of(group: int) -> list[int]:
    """Processes of a group that still run; those that only wait to be taken note of are none."""
    found = []
    for entry in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError, IndexError):
            state, _, its_group = (entry / "stat").read_text().rpartition(")")[2].split()[:3]
            if int(its_group) == group and state != "Z":
                found.append(int(entry.name))
    return found


def check_gone(group: int) -> None:
    """No process of a group is left after two seconds."""
    end = time.monotonic() + GONE_WITHIN_S
    while (left := left_of(group)) and time.monotonic() < end:
        time.sleep(0.05)
    if left:
        os.killpg(group, signal.SIGKILL)
    must(not left, f"processes left: {len(left)}")


def place_of(study: str, folder: Path) -> tuple[str, ...]:
    """Where a study writes: a folder, or the file of a report."""
    return ("--out", str(folder / ("r.html" if study == "report" else "result-" + study)))


def state_of(study: str, folder: Path) -> str:
    """Hash of what stands at the place, which must be whole or not there."""
    place = Path(place_of(study, folder)[1])
    if study == "report":
        text = place.read_text() if place.exists() else ""
        must(not text or text.rstrip().endswith("</html>"), "a report is cut off")
        return str(hash(text)) if text else ""
    if not place.exists():
        return ""
    listed = manifest.read_manifest(place)
    must(listed is not None, "a result has no manifest")
    assert listed is not None
    must(sorted(manifest.written(place, listed)) == sorted(listed), "a result is not whole")
    must((place / "notes.txt").read_text() == "mine", "a file of the user's is gone")
    return str(sorted(listed.items()))


def leftovers(folder: Path) -> list[str]:
    """Hidden names beside the results."""
    return [p.name for p in folder.iterdir() if p.name.startswith(".")]


def prepared(study: str, folder: Path) -> float:
    """An earlier result with a file of the user's in it; returns how long it took [s]."""
    (folder / "two.toml").write_text(SITE)
    if study == "report":
        finished((*PREDICT, "--out", "result"), folder)
    begin = time.monotonic()
    finished(arguments_of(study, folder), folder)
    took = time.monotonic() - begin
    place = Path(place_of(study, folder)[1])
    if place.is_dir():
        (place / "notes.txt").write_text("mine")
    return took


def arguments_of(study: str, folder: Path) -> tuple[str, ...]:
    """The command of a study."""
    words = tuple(str(folder / "two.toml") if word == "two" else word for word in STUDIES[study])
    return (*words, *place_of(study, folder))


def finished(arguments: tuple[str, ...], folder: Path) -> None:
    """Run a command that must end well."""
    process = start(arguments, folder)
    _, said = process.communicate()
    must(process.returncode == 0, f"a usual run failed: {said.decode(errors='replace')[:300]}")


def kill(folder: Path, times: int, dice: random.Random, counts: Counter[str]) -> None:
    """SIGKILL and SIGTERM at random moments of every study."""
    for study in STUDIES:
        took = prepared(study, folder)
        for number in (signal.SIGKILL, signal.SIGTERM):
            slowest = 0.0
            for _ in range(times):
                before = state_of(study, folder)
                process = start(arguments_of(study, folder), folder)
                time.sleep(dice.uniform(0.0, 1.1 * took))
                begin = time.monotonic()
                process.send_signal(number)
                _, said = process.communicate()
                slowest = max(slowest, time.monotonic() - begin)
                check_gone(process.pid)
                after = state_of(study, folder)
                must(bool(after) or not before, f"{study}: the earlier result is gone")
                if number == signal.SIGTERM:
                    code = process.returncode
                    # a signal before Python is ready ends the process in the system's way
                    must(code in (0, INTERRUPTED, -number), f"{study}: code {code} {said!r}")
                counts[f"{study} {number.name}"] += 1
            must(slowest < ENDS_WITHIN_S, f"{study}: {number.name} took {slowest:.1f} s")
            print(f"{study} {number.name}: {times} times, ended within {slowest:.1f} s", flush=True)
        finished(arguments_of(study, folder), folder)
        must(not leftovers(folder), f"{study}: left over: {leftovers(folder)}")


def twice(folder: Path, times: int, dice: random.Random, counts: Counter[str]) -> None:
    """Two runs at once into one folder: both end well, or one is told to wait."""
    for study in STUDIES:
        prepared(study, folder)
        for _ in range(max(1, times // 3)):
            first = start(arguments_of(study, folder), folder)
            time.sleep(dice.uniform(0.0, 1.0))
            second = start(arguments_of(study, folder), folder)
            said = [p.communicate()[1] for p in (first, second)]
            codes = sorted(p.returncode for p in (first, second))
            must(codes in ([0, 0], [0, BAD_INPUT]), f"{study} twice: {codes} {said!r}")
            must(bool(state_of(study, folder)), f"{study} twice: no result")
            must(not leftovers(folder), f"{study} twice: left over")
            counts[f"{study} twice"] += 1
        print(f"{study} twice: {counts[f'{study} twice']} times", flush=True)


@contextmanager
def small_disk(at: Path, size: str, options: str = "rw") -> Iterator[bool]:
    """A disk in memory of a size; yields whether it could be mounted."""
    at.mkdir(exist_ok=True)
    asked = ["mount", "-t", "tmpfs", "-o", f"size={size},{options}", "tmpfs", str(at)]
    mounted = subprocess.run(asked, capture_output=True, check=False).returncode == 0
    try:
        yield mounted
    finally:
        if mounted:
            subprocess.run(["umount", str(at)], check=True)


def disk(folder: Path, _times: int, _dice: random.Random, counts: Counter[str]) -> None:
    """Disks that fill up while a result is written, and one that cannot be written."""
    for size in ("8k", "64k", "256k", "1m", "64m"):
        for study in ("predict", "sweep"):
            with small_disk(folder / "disk", size) as mounted:
                if not mounted:
                    counts["disk (left out: may not mount)"] += 1
                    return
                process = start((*STUDIES[study], "--out", str(folder / "disk" / "r")), folder)
                said = process.communicate()[1].decode(errors="replace")
                refused = process.returncode == BAD_INPUT and "Traceback" not in said
                must(process.returncode == 0 or refused, f"{study} on {size}: {said[:400]}")
                there = manifest.read_manifest(folder / "disk" / "r")
                must((process.returncode == 0) == (there is not None), f"{study} on {size}")
                must(not leftovers(folder / "disk"), f"{study} on {size}: left over")
                counts[f"{study} on {size}"] += 1
        print(f"disk of {size}: done", flush=True)
    with small_disk(folder / "disk", "1m", "ro"):
        process = start((*PREDICT, "--out", str(folder / "disk" / "r")), folder)
        said = process.communicate()[1].decode(errors="replace")
        must(process.returncode == BAD_INPUT and "read-only" in said, f"read-only: {said[:400]}")
        counts["predict on a read-only disk"] += 1


@contextmanager
def of_dask(what: str, folder: Path, *arguments: str) -> Iterator[subprocess.Popen[bytes]]:
    """A scheduler or worker of dask as a process of its own."""
    asked = [sys.executable, "-m", f"distributed.cli.dask_{what}", *arguments, "--no-dashboard"]
    with (folder / f"{what}.log").open("wb") as log:
        process = subprocess.Popen(asked, cwd=folder, stdout=log, stderr=log)
        try:
            yield process
        finally:
            process.kill()
            process.wait()


def free_port() -> int:
    """A port that nobody listens at."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


def running(command: tuple[str, ...], folder: Path, seconds: float) -> subprocess.Popen[bytes]:
    """A command in the middle of its work after some seconds, or fewer where it ends sooner."""
    while True:
        process = start(command, folder)
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(seconds)
            seconds *= 0.7
            continue
        return process


def cluster(folder: Path, _times: int, dice: random.Random, counts: Counter[str]) -> None:
    """A worker is killed: another takes its points. The scheduler is killed: points stay."""
    address = f"tcp://127.0.0.1:{free_port()}"
    place = address.rpartition(":")
    (folder / "many.toml").write_text(SITE + "".join(POSITION.format(name=n) for n in "bcd"))
    asked = ("survey", "many.toml", *place_of("survey", folder))
    command = (*asked, "--cluster", address)
    one = (address, "--nthreads", "1", "--no-nanny")
    with (
        of_dask("scheduler", folder, "--host", "127.0.0.1", "--port", place[2]) as scheduler,
        of_dask("worker", folder, *one) as first,
        of_dask("worker", folder, *one),
    ):
        begin = time.monotonic()
        finished(command, folder)
        took = time.monotonic() - begin
        before = state_of_result(folder)
        process = running(command, folder, took * dice.uniform(0.4, 0.7))
        first.kill()
        said = process.communicate()[1].decode(errors="replace")
        must(process.returncode == 0, f"worker killed: {said[:400]}")
        must(state_of_result(folder) == before, "worker killed: another result")
        counts["worker killed"] += 1
        process = running(command, folder, took * dice.uniform(0.4, 0.9))
        scheduler.kill()
        said = process.communicate()[1].decode(errors="replace")
        refused = process.returncode == BAD_INPUT and "Traceback" not in said
        must(refused, f"scheduler killed: {process.returncode} {said[-400:]}")
        must(state_of_result(folder) == before, "scheduler killed: the earlier result is gone")
        counts["scheduler killed"] += 1
    finished((*asked, "--workers", "1", "--resume"), folder)
    must(state_of_result(folder) == before, "scheduler killed: another result")
    must(not leftovers(folder), "scheduler killed: left over")


def state_of_result(folder: Path) -> str:
    """Hashes of the tables of a survey, which no time and no machine may change."""
    place = Path(place_of("survey", folder)[1])
    listed = manifest.read_manifest(place)
    must(listed is not None, "a result has no manifest")
    assert listed is not None
    return str([listed[name] for name in sorted(listed) if name.endswith(".csv")])


Fault = Callable[[Path, int, random.Random, Counter[str]], None]
FAULTS: dict[str, Fault] = {"kill": kill, "twice": twice, "disk": disk, "cluster": cluster}


def main() -> None:
    """Cause the faults that are named, or all."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("faults", nargs="*", help=f"of {', '.join(FAULTS)}; all by default")
    parser.add_argument("--times", type=int, default=10, help="moments for each study and signal")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument(
        "--studies", default=",".join(STUDIES), help="for kill and twice, with commas"
    )
    parser.add_argument("--folder", type=Path, help="where to work; it must be empty")
    asked = parser.parse_args()
    chosen = asked.studies.split(",")
    if unknown := sorted(set(chosen) - set(STUDIES)):
        parser.error(f"no such study: {', '.join(unknown)} (of {', '.join(STUDIES)})")
    for study in set(STUDIES) - set(chosen):
        del STUDIES[study]
    counts: Counter[str] = Counter()
    lost = []
    for name in asked.faults or FAULTS:
        folder = Path(tempfile.mkdtemp(prefix=f"faults-{name}-", dir=asked.folder))
        try:
            FAULTS[name](folder, asked.times, random.Random(asked.seed), counts)
        except LostError as error:
            lost.append(f"{name}: {error}")
        except KeyboardInterrupt:
            print(f"{name} was interrupted")
            break
        finally:
            shutil.rmtree(folder, ignore_errors=True)
    for what, n in counts.items():
        print(f"{n:>4} x {what}")
    for what in lost:
        print(f"LOST  {what}")
    print(f"{counts.total()} faults, {len(lost)} lost")
    print("nothing lost" if not lost else f"lost: {len(lost)}")
    sys.exit(1 if lost else 0)


if __name__ == "__main__":
    main()
