"""A process that runs for years gives back what it no longer needs, and adds no threads."""

from __future__ import annotations

import subprocess
import sys

HELD = """
import psutil
from firmware_bridge.thrift import give_back, hold_little
hold_little()
blocks = [bytes(4000) for _ in range(20_000)]
kept = blocks[::50]
del blocks
before = psutil.Process().memory_info().rss
give_back()
print((before - psutil.Process().memory_info().rss) // 2**20)
"""
ALGEBRA = """
from firmware_bridge.thrift import one_thread_of_algebra
one_thread_of_algebra()
import numpy as np
import psutil
a = np.ones((600, 600))
a @ a
print(psutil.Process().num_threads())
"""


def said_by(program: str) -> int:
    """What a fresh process says."""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True)
    return int(done.stdout)


def test_what_is_free_between_what_is_held_goes_back() -> None:
    """Tens of megabytes with a block in use here and there: they return to the system."""
    assert said_by(HELD) > 40


def test_products_of_matrices_add_no_thread() -> None:
    """On a box of few cores they would only wait for each other."""
    assert said_by(ALGEBRA) == 1
