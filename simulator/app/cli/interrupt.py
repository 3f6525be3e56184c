"""Ctrl-C and SIGTERM end the command within a second, also while compiled code runs.

Python calls its own handlers between two steps of the main thread, and a compiled loop is one step.
So a thread listens as well: where the main thread has not heard of the signal after a moment, it
ends the process as a kill would. Nothing is lost by that: results appear whole or not at all, and
the next run clears away what is left.
"""

from __future__ import annotations

import os
import signal
import socket
import sys
import threading
from types import FrameType
from typing import Any, Self

INTERRUPTED = 130  # 128 + SIGINT, as shells have it
HEARD_WITHIN_S = 0.7
"""How long the main thread may take to hear of a signal."""
TIDY_WITHIN_S = 5.0
"""How long it may then take to put things in order: rows that are kept, parts of a result."""


class Interrupts:
    """While it is entered, SIGINT and SIGTERM raise `KeyboardInterrupt` and are listened for."""

    def __init__(self) -> None:
        self.heard = threading.Event()
        self._wake, self._listen = socket.socketpair()
        self._wake.setblocking(False)
        self._usual: dict[signal.Signals, Any] = {}

    def __enter__(self) -> Self:
        for number in (signal.SIGTERM, signal.SIGINT):
            usual = signal.getsignal(number)
            # who started us with interrupts ignored, as `nohup` does, means it
            if number == signal.SIGTERM or usual is not signal.SIG_IGN:
                self._usual[number] = usual
                signal.signal(number, self._interrupt)
        signal.set_wakeup_fd(self._wake.fileno(), warn_on_full_buffer=False)
        threading.Thread(target=self._wait, name="interrupts", daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        signal.set_wakeup_fd(-1)
        for number, usual in self._usual.items():
            signal.signal(number, usual)
        self._wake.close()  # which ends the thread

    def _interrupt(self, _number: int, _frame: FrameType | None) -> None:
        self.heard.set()
        raise KeyboardInterrupt

    def _asked(self, came: bytes) -> bool:
        """Whether one of these signals is for us: a server that runs takes them for itself."""
        return any(n in came and signal.getsignal(n) == self._interrupt for n in self._usual)

    def _wait(self) -> None:
        with self._listen:
            while not self._asked(came := self._listen.recv(64)):
                if not came:
                    return
        if self.heard.wait(HEARD_WITHIN_S):
            threading.Event().wait(TIDY_WITHIN_S)
        end()


def end() -> None:
    """End the process at once, without waiting for compiled loops in other threads."""
    for stream in (sys.stdout, sys.stderr):
        stream.flush()
    os._exit(INTERRUPTED)
