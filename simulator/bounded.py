"""What is kept in memory between questions: a few results by content."""

from __future__ import annotations

import contextlib
import ctypes
import gc
import sys
from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from types import BuiltinMethodType, MethodWrapperType
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
        part.nbytes
        if isinstance(part, np.ndarray)
        else bytes_of(*part)
        if isinstance(part, tuple)
        else 0
        for part in things
    )


FOLLOWED = (dict, list, tuple, set, frozenset, BuiltinMethodType, MethodWrapperType)
"""What is looked through for arrays, beside objects of this package."""


def bytes_reached(owner: object) -> int:
    """Bytes of all arrays that an object keeps alive, however deep: each counted once, as a whole
    where only a part of it is kept.

    Looked for in plain containers and in objects of this package, as they stand at this moment:
    other threads may go on with them.
    """
    total = 0
    known: set[int] = set()
    left = [owner]
    while left:
        one = left.pop()
        while isinstance(one, np.ndarray) and isinstance(one.base, np.ndarray):
            one = one.base
        if id(one) in known:
            continue
        known.add(id(one))
        if isinstance(one, np.ndarray):
            total += one.nbytes
        elif isinstance(one, FOLLOWED) or _is_own(one):
            left += gc.get_referents(one)
    return total


def _is_own(item: object) -> bool:
    return not isinstance(item, type) and type(item).__module__.startswith("simulator")


M_ARENA_MAX = -8
"""`mallopt`'s number for how many separate pools the C library takes memory from."""


def few_pools(most: int = 2) -> None:
    """Let the threads of this process share a few pools of memory.

    glibc gives each thread its own, up to eight for each processor, and what was freed in one of
    them serves no other. Elsewhere nothing is done.
    """
    if sys.platform == "linux":
        with contextlib.suppress(OSError, AttributeError):  # another C library
            ctypes.CDLL(None).mallopt(M_ARENA_MAX, most)


def give_back() -> None:
    """Give memory that was freed back to the system, where the C library keeps it for itself.

    glibc raises the size from which it gives back at once up to 32 MB, as large as our pictures: a
    process that answered one question after the other would grow by a quarter of a gigabyte each
    time. Elsewhere nothing is done.
    """
    if sys.platform == "linux":
        with contextlib.suppress(OSError, AttributeError):  # another C library
            ctypes.CDLL(None).malloc_trim(0)
