"""What is kept in memory between questions: a few results by content."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import Generic, TypeVar

T = TypeVar("T")


class Bounded(Generic[T]):
    """A few results by content, the ones that were not asked for longest given up; for threads."""

    def __init__(self, most: int) -> None:
        self.most, self.lock = most, Lock()
        self.known: OrderedDict[str, T] = OrderedDict()

    def get(self, key: str) -> T | None:
        """What is kept of it; None where nothing is."""
        with self.lock:
            if key in self.known:
                self.known.move_to_end(key)
            return self.known.get(key)

    def put(self, key: str, value: T) -> T:
        """Keep it, and give it back."""
        with self.lock:
            self.known[key] = value
            while len(self.known) > self.most:
                self.known.popitem(last=False)
        return value
