"""Work that a page asked for: what is out of date is dropped, pages do not wait for each other.

Quick work (a coarse picture) and slow work (the whole picture, its proof) go in lanes of their own,
so that one page's proof does not hold up another page's slider. Work that runs is asked to stop
between its steps; work that waits is never begun.
"""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Lock
from typing import Any, TypeVar

from simulator.bounded import give_back

Result = TypeVar("Result")
MOST_PAGES = 64
"""Pages whose newest question is known; older ones are forgotten."""


class OutOfDateError(Exception):
    """The page has asked for something newer, or has gone."""


class Ticket:
    """One question of a page."""

    def __init__(self) -> None:
        self._stale = False

    def drop(self) -> None:
        """Mark it as out of date."""
        self._stale = True

    def check(self, *_: Any) -> None:
        """End the work if it is out of date; takes what a progress callback takes.

        Raises
        ------
        OutOfDateError
            If it is.
        """
        if self._stale:
            raise OutOfDateError


class Lanes:
    """Threads for quick and for slow work, and the newest question of every page."""

    def __init__(self, quick: int = 2, slow: int = 1) -> None:
        self.quick = ThreadPoolExecutor(quick, "workbench-quick")
        self.slow = ThreadPoolExecutor(slow, "workbench-slow")
        self._newest: OrderedDict[str, Ticket] = OrderedDict()
        self._lock = Lock()
        self._waited_for: set[asyncio.Future[Any]] = set()
        self._closed = False

    def ticket(self, page: str) -> Ticket:
        """A ticket for a page's newest question; the one before is out of date."""
        with self._lock:
            before = self._newest.pop(page, None)
            if before is not None:
                before.drop()
            made = self._newest[page] = Ticket()
            while len(self._newest) > MOST_PAGES:
                _, oldest = self._newest.popitem(last=False)
                oldest.drop()
            return made

    async def run(
        self, lane: ThreadPoolExecutor, ticket: Ticket, work: Callable[[], Result]
    ) -> Result:
        """The result of some work, unless its ticket is out of date before it begins.

        Raises
        ------
        OutOfDateError
            If it is, and where the lanes are closed meanwhile: work goes on for as long as its
            compiled loops take, but nobody waits for it.
        """

        def begun() -> Result:
            try:
                ticket.check()
                return work()
            except OutOfDateError:
                pass  # a new one is raised, which does not keep alive what the steps held
            finally:
                if lane is self.slow:
                    give_back()
            raise OutOfDateError

        if self._closed:
            raise OutOfDateError
        future = asyncio.get_running_loop().run_in_executor(lane, begun)
        self._waited_for.add(future)
        try:
            return await future
        except asyncio.CancelledError:
            if self._closed:
                raise OutOfDateError from None
            raise
        finally:
            self._waited_for.discard(future)

    def close(self) -> None:
        """End all lanes; what waits is dropped, and what runs is waited for no longer.

        Called by the thread of the event loop, or when that has ended.
        """
        self._closed = True
        with self._lock:
            for ticket in self._newest.values():
                ticket.drop()
        for lane in (self.quick, self.slow):
            lane.shutdown(wait=False, cancel_futures=True)
        for future in tuple(self._waited_for):
            future.cancel()
