"""Keeps matrix products on one core.

The networks multiply small matrices thousands of times a minute. Shared out among threads that wait
for each other busily, that is slower than one thread alone, and where a machine has fewer cores
free than it shows, slower by far: measured 0.07 of real time with one thread and 1.25 with two.
"""

from __future__ import annotations

from threadpoolctl import threadpool_limits

__all__ = ["keep_to_one_core"]


def keep_to_one_core() -> None:
    """From now on let this process's BLAS use one thread; one that has no such setting is left."""
    threadpool_limits(limits=1, user_api="blas")
