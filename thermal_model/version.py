"""Which version made a result; apart from `results`, so that asking for it imports nothing slow."""

from functools import lru_cache


@lru_cache(maxsize=1)
def version() -> str:
    """Return the version of the distribution that is installed."""
    from importlib.metadata import version as installed_version

    return installed_version("holdtime")
