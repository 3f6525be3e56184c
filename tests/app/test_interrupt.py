"""Ctrl-C and SIGTERM end the command while compiled code runs in the main thread."""

from __future__ import annotations

import signal
import subprocess
import sys

import pytest

ENDLESS = """
from numba import njit
from simulator.app import cli

@njit(nogil=True)
def work(n):
    x = 0.0
    for i in range(n):
        x += i % 7
    return x

work(1)

def endless(**_):
    print("at work", flush=True)
    work(10**16)

cli.app = endless
cli.main()
"""


OTHERS = """
import signal, time
from simulator.app import cli

def serve(**_):
    asked = []
    signal.signal(signal.SIGINT, lambda *_: asked.append(1))
    print("at work", flush=True)
    while not asked:
        time.sleep(0.05)
    time.sleep(1.5)  # puts its things in order, longer than a command may
    print("in order", flush=True)

cli.app = serve
cli.main()
"""


LOADING = """
import time
from simulator.app import cli

def load(**_):
    print("at work", flush=True)
    try:
        time.sleep(60)
    except KeyboardInterrupt:  # as compiled modules do that are being loaded
        raise ImportError("initialization failed") from None

cli.app = load
cli.main()
"""


def started(code: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # noqa: PLW1509
    )  # fmt: skip


@pytest.mark.invariant
def test_who_takes_signals_for_himself_is_left_alone() -> None:
    run = started(OTHERS)
    assert run.stdout is not None
    assert run.stdout.readline() == b"at work\n"
    run.send_signal(signal.SIGINT)
    assert run.communicate(timeout=60)[0] == b"in order\n"
    assert run.returncode == 0


@pytest.mark.invariant
def test_what_an_interrupt_breaks_is_no_fault() -> None:
    run = started(LOADING)
    assert run.stdout is not None
    assert run.stdout.readline() == b"at work\n"
    run.send_signal(signal.SIGTERM)
    assert run.communicate(timeout=60)[0] == b""
    assert run.returncode == 130


@pytest.mark.invariant
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_compiled_loop_is_left(number: signal.Signals) -> None:
    """The loop would run for weeks; ending at all within the time limit shows that it was left."""
    run = started(ENDLESS)
    assert run.stdout is not None
    try:
        assert run.stdout.readline() == b"at work\n"
        run.send_signal(number)
        assert run.wait(timeout=60) == 130
    finally:
        run.kill()
        run.stdout.close()
