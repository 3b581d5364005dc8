"""The ways to choose designs; apart from `sampling`, so that the help page imports nothing slow."""

from enum import StrEnum


class Sampling(StrEnum):
    """How designs are chosen."""

    GRID = "grid"
    ONE_AT_A_TIME = "one-at-a-time"
    LATIN = "latin"
    SOBOL = "sobol"
