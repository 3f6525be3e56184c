"""Compiled loops: how they are built, kept between runs, and spread over threads.

A kernel is a loop compiled by numba. What was compiled is kept on disk under a key made of the
sources of every file of this package that holds kernels: a helper compiled into another file's
kernel is part of that kernel, so a change of any of them makes all of them stale. The kept files
lie in the user's cache folder, or in a temporary one where that cannot be written; a file that
cannot be read is made anew.

Loops over rows run on a pool of threads, each with a range of rows; compiled code lets the
interpreter's lock go. Every row is computed alone, so results do not depend on the number of
threads.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numba
from numba import njit
from numba.core.caching import CompileResultCacheImpl, FunctionCache, _CacheLocator

from simulator.disk_cache import kernel_folder

PACKAGE = Path(__file__).parent
IMPORTED = re.compile(r"^from simulator\.([\w.]+) import (\([^)]*\)|[^\n(]+)", re.MULTILINE)
CONSTANT = re.compile(r"\b[A-Z][A-Z0-9_]+\b")
AS_NUMPY = {"error_model": "numpy"}
"""Division by zero gives infinity, as in numpy: a test before every division keeps loops from
becoming vector code."""
LEAST_ROWS = 8
"""Rows that are worth a thread of their own."""


@cache
def kernel_sources() -> tuple[Path, ...]:
    """Files that hold kernels or helpers, and those whose constants are compiled into them."""
    own = {Path(__file__)}
    for file in PACKAGE.rglob("*.py"):
        text = file.read_text(encoding="utf-8")
        if "simulator.kernels import" not in text:
            continue
        own.add(file)
        for module, names in IMPORTED.findall(text):
            if CONSTANT.search(names):
                own.add(PACKAGE.joinpath(*module.split(".")).with_suffix(".py"))
    return tuple(sorted(own))


@cache
def sources_key() -> str:
    """Hash of all source files of kernels, and of the compiler's version, as a name of a folder.

    Two versions of numba that take turns on one machine would else throw away each other's code.
    """
    digest = hashlib.sha256(f"numba {numba.__version__}".encode())
    for file in kernel_sources():
        digest.update(str(file.relative_to(PACKAGE)).encode() + b"\0" + file.read_bytes())
    return digest.hexdigest()[:20]


@cache
def cache_folder() -> Path:
    """Folder that keeps compiled kernels of these sources; it exists and can be written to."""
    return kernel_folder(sources_key())


class _Locator(_CacheLocator):
    """Where numba keeps a kernel, and the stamp that tells whether it is stale."""

    def __init__(self, py_func: Callable[..., Any], py_file: str) -> None:
        self._py_file = py_file
        self._lineno = py_func.__code__.co_firstlineno

    def get_cache_path(self) -> str:
        return str(cache_folder())

    def get_source_stamp(self) -> str:
        return sources_key()

    def get_disambiguator(self) -> str:
        return str(self._lineno)

    @classmethod
    def from_function(cls, py_func: Callable[..., Any], py_file: str) -> _Locator:
        return cls(py_func, py_file)


class _Implementation(CompileResultCacheImpl):
    _locator_classes = (_Locator,)


class _KernelCache(FunctionCache):
    """Kept machine code of a kernel; a file that is broken is made anew instead of failing."""

    _impl_class = _Implementation

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        try:
            return super().load_overload(sig, target_context)
        except Exception:  # whatever a torn or foreign file makes the reader raise
            with contextlib.suppress(Exception):
                self.flush()
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        with contextlib.suppress(OSError):  # a full disk does not stop the work
            super().save_overload(sig, data)


def kernel(
    function: Callable[..., Any] | None = None, *, allocates: bool = False, **options: Any
) -> Any:
    """Decorator: a loop compiled on first use, kept on disk, that lets the interpreter's lock go.

    Parameters
    ----------
    allocates
        Whether the loop makes arrays of its own; without, no references are counted, which for
        arrays that come in tuples costs several times the work itself.
    options
        Passed on to numba (`fastmath`, `error_model`).
    """
    if function is None:
        return lambda f: kernel(f, allocates=allocates, **options)
    dispatcher = njit(nogil=True, _nrt=allocates, **{**AS_NUMPY, **options})(function)
    dispatcher._cache = _KernelCache(function)
    return dispatcher


def helper(function: Callable[..., Any] | None = None, **options: Any) -> Any:
    """Decorator: a function that only kernels call; its code is kept within theirs."""
    if function is None:
        return lambda f: helper(f, **options)
    return njit(_nrt=False, **{**AS_NUMPY, **options})(function)


def thread_count() -> int:
    """Threads that kernels use: `NUMBA_NUM_THREADS` if it is set, else one a processor."""
    given = os.environ.get("NUMBA_NUM_THREADS", "")
    if given.isdigit() and int(given) > 0:
        return int(given)
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@cache
def _pool(threads: int, process: int) -> ThreadPoolExecutor:
    del process  # a forked child needs threads of its own
    return ThreadPoolExecutor(threads, thread_name_prefix="kernel")


def over_rows(run: Callable[..., Any], rows: int, *args: Any, least: int = LEAST_ROWS) -> None:
    """Call a kernel `run(first, last, *args)` so that all of `rows` are worked through.

    Parameters
    ----------
    run
        Kernel that works on the rows first to last - 1 alone and writes into its arguments.
    least
        Rows that are worth a thread.
    """
    threads = min(thread_count(), max(1, rows // least))
    if threads == 1:
        if rows > 0:
            run(0, rows, *args)
        return
    # a few pieces more than threads even out rows of unlike cost
    pieces = min(4 * threads, max(1, rows // least))
    ends = [rows * k // pieces for k in range(pieces + 1)]
    left = iter(list(pairwise(ends)))  # a list's iterator gives each piece to one thread
    if not getattr(run, "overloads", True):  # compiled before threads begin
        run(*next(left), *args)

    def work() -> None:
        for first, last in left:
            run(first, last, *args)

    others = [_pool(threads, os.getpid()).submit(work) for _ in range(threads - 1)]
    try:
        work()  # the caller is one of the threads
    finally:
        for other in others:
            if not other.cancel():  # it has begun
                other.result()
