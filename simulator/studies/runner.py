"""Work that is cut into points: done here, in processes or on a cluster, told, stopped, taken up.

A study gives a function and points; results come as they are finished. Points that are done are
kept in a file beside the result (`kept`), so that work that was interrupted goes on where it
stopped.
"""

from __future__ import annotations

import logging
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context
from types import FrameType
from typing import Any, Protocol, TypeVar

from simulator.errors import InputError
from simulator.studies.worker import begin

Progress = Callable[[str, float], None]
RETRIES = 5
"""How often a cluster tries a point again whose worker was lost."""
P = TypeVar("P")
R = TypeVar("R")


class Pool(Protocol):
    """Where points are worked on. `do` and points go to other processes: both must be picklable."""

    def each(self, do: Callable[[P], R], points: Sequence[P]) -> Iterator[tuple[P, R]]:
        """Work on all points; they come with their results as they are finished."""

    def map(self, do: Callable[[P], R], points: Sequence[P]) -> list[R]:
        """Work on all points; results in the order of the points."""

    def warm_up(self) -> None:
        """Let processes start and load their modules while something else is done."""


class _Pool:
    def each(self, do: Callable[[P], R], points: Sequence[P]) -> Iterator[tuple[P, R]]:
        for n, result in self.numbered(do, points):
            yield points[n], result

    def map(self, do: Callable[[P], R], points: Sequence[P]) -> list[R]:
        results = dict(self.numbered(do, points))
        return [results[n] for n in range(len(points))]

    def numbered(self, do: Callable[[P], R], points: Sequence[P]) -> Iterator[tuple[int, R]]:
        """Numbers of points with their results, as they are finished."""
        raise NotImplementedError

    def warm_up(self) -> None:
        """Nothing to be started."""


class _Here(_Pool):
    """This process, one point after the other."""

    def numbered(self, do: Callable[[P], R], points: Sequence[P]) -> Iterator[tuple[int, R]]:
        for n, point in enumerate(points):
            yield n, do(point)


class _Processes(_Pool):
    def __init__(self, executor: ProcessPoolExecutor, count: int) -> None:
        self.executor, self.count = executor, count

    def warm_up(self) -> None:
        for _ in range(self.count):
            self.executor.submit(_nothing)

    def numbered(self, do: Callable[[P], R], points: Sequence[P]) -> Iterator[tuple[int, R]]:
        try:
            waiting: dict[Future[R], int] = {
                self.executor.submit(do, point): n for n, point in enumerate(points)
            }
            while waiting:
                ready, _ = wait(waiting, return_when=FIRST_COMPLETED)
                for future in ready:
                    yield waiting.pop(future), future.result()
        except BrokenProcessPool:
            raise InputError(
                "A worker process was ended from outside, as happens where memory runs out.",
                argument="workers",
                given=self.count,
                fix="use fewer workers; with resume the points that are done stay",
            ) from None


def _nothing() -> None:
    """Work that only makes a process start."""


class _Cluster(_Pool):
    """The workers of a dask scheduler; points of a worker that is lost go to another one."""

    def __init__(self, client: Any, address: str) -> None:
        self.client = client
        self.address = address

    def numbered(self, do: Callable[[P], R], points: Sequence[P]) -> Iterator[tuple[int, R]]:
        from dask import distributed  # noqa: PLC0415  an extra that only a cluster needs

        waiting = {
            self.client.submit(do, point, retries=RETRIES, pure=False): n
            for n, point in enumerate(points)
        }
        try:
            for future in distributed.as_completed(list(waiting), loop=self.client.loop):
                yield waiting[future], future.result()
        except (CancelledError, distributed.KilledWorker) as error:
            lost = "the scheduler" if isinstance(error, CancelledError) else "worker after worker"
            raise InputError(
                f"The cluster was lost: {lost} ended.",
                argument="cluster",
                given=self.address,
                fix="start it again; with resume the points that are done stay",
            ) from None
        except BaseException:
            self.client.cancel(list(waiting))
            raise


@contextmanager
def open_pool(
    points: int | None = None, *, workers: int | None = None, cluster: str | None = None
) -> Iterator[Pool]:
    """Where the points of a study are worked on; SIGTERM ends the work as Ctrl-C does.

    Parameters
    ----------
    points
        How many there are, if that is known: no more processes are started.
    workers
        Processes, by default one for each processor. One works in this process.
    cluster
        Address of a dask scheduler whose workers do the work instead. They need this package, and
        one thread each.

    Raises
    ------
    InputError
        If the cluster does not answer or its library is not installed.
    KeyboardInterrupt
        On Ctrl-C or SIGTERM; all workers here have ended then.
    """
    with _ended_by_sigterm():
        if cluster is not None:
            with _client(cluster) as client:
                yield _Cluster(client, cluster)
            return
        count = workers or os.cpu_count() or 1
        if points is not None:
            count = min(count, points)
        if count <= 1:
            yield _Here()
            return
        with _processes(count) as executor:
            yield _Processes(executor, count)


@contextmanager
def _processes(count: int) -> Iterator[ProcessPoolExecutor]:
    context = get_context("spawn")
    alive, ours = context.Pipe(duplex=False)
    executor = ProcessPoolExecutor(count, mp_context=context, initializer=begin, initargs=(alive,))
    try:
        yield executor
    except BaseException:
        # their work is of no use any more: do not wait until it is done
        ours.close()
        raise
    finally:
        executor.shutdown(wait=True, cancel_futures=True)
        ours.close()
        alive.close()


@contextmanager
def _client(address: str) -> Iterator[Any]:
    try:
        from dask import distributed  # noqa: PLC0415  an extra that only a cluster needs
    except ImportError:
        raise InputError(
            "A cluster needs dask.distributed, which is not installed.",
            argument="cluster",
            allowed='the extra: pip install "nightproof[cluster]"',
            fix="install the extra here and on every worker, or leave it out",
        ) from None
    # a connection that is lost ends in a message of ours; the library's traces would hide it
    for name in ("distributed.client", "distributed.core"):
        logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    try:
        client = distributed.Client(address, timeout=10, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise InputError(
            "No scheduler answers at this address.",
            argument="cluster",
            given=address,
            allowed="the address of a running dask scheduler, such as tcp://10.0.0.5:8786",
            fix=f"start it, or check the address ({type(error).__name__})",
        ) from None
    with client:
        yield client


@contextmanager
def _ended_by_sigterm() -> Iterator[None]:
    """SIGTERM raises KeyboardInterrupt, in the main thread and where nobody else handles it."""
    usual = signal.getsignal(signal.SIGTERM)
    ours = threading.current_thread() is threading.main_thread() and usual == signal.SIG_DFL
    if not ours:
        yield
        return
    signal.signal(signal.SIGTERM, _interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, usual)


def _interrupt(_number: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt
