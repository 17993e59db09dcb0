"""What keeps a process that runs for years small: one thread for algebra, memory given back.

The C library keeps what is freed for later, in an arena for each thread, and holds on to ever
larger blocks the more often they are freed; a process that draws curves now and then would keep the
most it ever needed. Where the C library is another than glibc nothing of this is needed or done.
"""

from __future__ import annotations

import os
from functools import cache
from typing import Any, Final

ALGEBRA_THREADS: Final = "OPENBLAS_NUM_THREADS"
TRIM_THRESHOLD: Final = -1
MMAP_THRESHOLD: Final = -3
ARENA_MAX: Final = -8
"""Numbers of mallopt(3), from glibc's malloc.h."""
LARGE_BYTES: Final = 1 << 20
"""Blocks from here on go back as soon as they are freed."""
ARENAS: Final = 2


def one_thread_of_algebra() -> None:
    """Before numpy is loaded: products of matrices as small as ours only wait for other threads.

    Who has set the variable has the last word.
    """
    os.environ.setdefault(ALGEBRA_THREADS, "1")


def hold_little() -> None:
    """From here on large blocks are given back at once, and threads share their arenas."""
    library = _library()
    if library is not None:
        library.mallopt(MMAP_THRESHOLD, LARGE_BYTES)
        library.mallopt(TRIM_THRESHOLD, LARGE_BYTES)
        library.mallopt(ARENA_MAX, ARENAS)


def give_back() -> None:
    """Hand what is free back to the system; takes a millisecond or two."""
    library = _library()
    if library is not None:
        library.malloc_trim(0)


@cache
def _library() -> Any:
    """The C library, where it is one that these calls are of."""
    import ctypes

    library = ctypes.CDLL(None)
    return library if hasattr(library, "mallopt") and hasattr(library, "malloc_trim") else None
