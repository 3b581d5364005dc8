"""How many cores this process may use."""

import os


def cores() -> int:
    """Return a number, 1 or more."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
