"""What a worker process does first; it imports nothing heavy, so that it comes before all that is.

A worker uses one thread, leaves Ctrl-C to its parent, and ends with it: a thread waits for the end
of the parent or of the pool, whichever comes first, and takes the process with it.
"""

from __future__ import annotations

import os
import signal
import threading
from multiprocessing import parent_process
from multiprocessing.connection import Connection, wait

ONE_THREAD = ("NUMBA_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""Variables that the libraries read when they are loaded: one processor works on one point."""


def begin(pool: Connection) -> None:
    """Set up a worker process.

    Parameters
    ----------
    pool
        Ends when the pool is given up.
    """
    for name in ONE_THREAD:
        os.environ[name] = "1"
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=_end_with, args=(pool,), daemon=True).start()
    import cv2  # noqa: PLC0415  only after the variables are set

    cv2.setNumThreads(1)


def _end_with(pool: Connection) -> None:
    parent = parent_process()
    wait([pool] if parent is None else [pool, parent.sentinel])
    os._exit(1)
