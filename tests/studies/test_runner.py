"""The pool for points: results, errors, interruption, and workers that end with their parent."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from simulator.errors import InputError
from simulator.studies.runner import open_pool

pytestmark = pytest.mark.invariant
POSIX = pytest.mark.skipif(os.name == "nt", reason="signals as POSIX has them")

SCRIPT = """
import os, sys, time
from pathlib import Path
from simulator.studies.runner import open_pool

def slow(folder):
    Path(folder, str(os.getpid())).touch()
    time.sleep(60)

if __name__ == "__main__":
    try:
        with open_pool(workers=2) as pool:
            pool.map(slow, [sys.argv[1]] * 4)
    except KeyboardInterrupt:
        sys.exit(130)
"""


def square(x):
    if x < 0:
        raise InputError("negative", given=x)
    return x * x, os.getpid()


def ends(_):
    os._exit(3)


@pytest.mark.parametrize("workers", [1, 2])
def test_results_come_in_order_and_as_they_are_finished(workers):
    with open_pool(5, workers=workers) as pool:
        pool.warm_up()
        found = pool.map(square, range(5))
        each = dict(pool.each(square, range(5)))
        assert pool.map(square, []) == []
    assert [value for value, _ in found] == [0, 1, 4, 9, 16]
    assert {x: value for x, (value, _) in each.items()} == {x: x * x for x in range(5)}
    here = {process == os.getpid() for _, process in found}
    assert here == {workers == 1}


def test_no_more_processes_than_points():
    with open_pool(1, workers=8) as pool:
        assert pool.map(square, [3])[0] == (9, os.getpid())


@pytest.mark.parametrize("workers", [1, 2])
def test_an_error_of_a_point_is_told(workers):
    with pytest.raises(InputError, match="negative"), open_pool(workers=workers) as pool:
        pool.map(square, [1, -1, 2])


def test_a_worker_that_is_killed_is_told():
    with pytest.raises(InputError, match="ended from outside"), open_pool(workers=2) as pool:
        pool.map(ends, [1, 2])


def running(process):
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    status = Path(f"/proc/{process}/stat")
    return not status.exists() or status.read_text().split(")")[1].split()[0] != "Z"


def until(condition, seconds):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if condition():
            return True
        time.sleep(0.05)
    return condition()


@POSIX
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_workers_end_with_their_parent(tmp_path, number):
    """Killed, it can do nothing more; the others it ends alike. All within two seconds."""
    script, marks = tmp_path / "script.py", tmp_path / "marks"
    script.write_text(SCRIPT)
    marks.mkdir()
    # a shell may have started the tests with the interrupt ignored, which children inherit
    parent = subprocess.Popen(
        [sys.executable, str(script), str(marks)], start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # noqa: PLW1509
    )  # fmt: skip
    try:
        assert until(lambda: len(list(marks.iterdir())) == 2, 120)
        workers = [int(mark.name) for mark in marks.iterdir()]
        assert all(map(running, workers))
        parent.send_signal(number)
        # two seconds on a machine that does nothing else; this one may be busy
        assert until(lambda: not any(map(running, workers)), 10)
        code = parent.wait(30)
        assert code == (-signal.SIGKILL if number == signal.SIGKILL else 130)
    finally:
        parent.kill()
        parent.wait()


def test_a_scheduler_that_is_killed_ends_in_a_message(tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    address = f"tcp://127.0.0.1:{port}"
    parts = (
        ("scheduler", "--host", "127.0.0.1", "--port", port),
        ("worker", address, "--nthreads", "1", "--no-nanny"),
    )
    running = [
        subprocess.Popen(
            [sys.executable, "-m", f"distributed.cli.dask_{what}", *more, "--no-dashboard"],
            cwd=tmp_path, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )
        for what, *more in parts
    ]  # fmt: skip
    try:
        with (
            pytest.raises(InputError, match="The cluster was lost: the scheduler ended"),
            open_pool(cluster=address) as pool,
        ):
            for n, _ in enumerate(pool.each(time.sleep, [0.1] * 200)):
                if n == 2:
                    running[0].kill()
    finally:
        for process in running:
            process.kill()
            process.wait()
