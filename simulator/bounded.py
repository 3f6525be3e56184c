"""What is kept in memory between questions: a few results by content."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

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
