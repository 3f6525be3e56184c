"""What is kept in memory between questions: a few results by content."""

from __future__ import annotations

import contextlib
import ctypes
import sys
from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

import numpy as np

T = TypeVar("T")


class Bounded(Generic[T]):
    """A few results by content, the ones that were not asked for longest given up; for threads.

    Parameters
    ----------
    most
        How many are kept, or how much of what `size` tells of each; the last one always is.
    size
        How much of `most` a result takes; 1 each without it.
    """

    def __init__(self, most: int, size: Callable[[T], int] | None = None) -> None:
        self.most, self.size, self.lock = most, size, Lock()
        self.known: OrderedDict[Hashable, T] = OrderedDict()

    def get(self, key: Hashable) -> T | None:
        """What is kept of it; None where nothing is."""
        with self.lock:
            if key in self.known:
                self.known.move_to_end(key)
            return self.known.get(key)

    def put(self, key: Hashable, value: T) -> T:
        """Keep it, and give it back."""
        with self.lock:
            self.known[key] = value
            self.known.move_to_end(key)
            while len(self.known) > 1 and self._held() > self.most:
                self.known.popitem(last=False)
        return value

    def _held(self) -> int:
        if self.size is None:
            return len(self.known)
        return sum(self.size(one) for one in self.known.values())


def bytes_of(*things: object) -> int:
    """Bytes of all arrays among things, and in the tuples among them."""
    return sum(
        thing.nbytes
        if isinstance(thing, np.ndarray)
        else bytes_of(*thing)
        if isinstance(thing, tuple)
        else 0
        for thing in things
    )


def give_back() -> None:
    """Give memory that was freed back to the system, where the C library keeps it for itself.

    glibc raises the size from which it gives back at once up to 32 MB, as large as our pictures: a
    process that answered one question after the other would grow by a quarter of a gigabyte each
    time. Elsewhere nothing is done.
    """
    if sys.platform == "linux":
        with contextlib.suppress(OSError, AttributeError):  # another C library
            ctypes.CDLL(None).malloc_trim(0)
