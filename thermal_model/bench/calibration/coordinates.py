"""What a calibration fits: a list of coordinates, each standard normal before any reading.

Only the effects of a run are wider where something went wrong in it (`run_faults`). Some coordinates are common
to all containers, some a container's own, some a run's, some a probe's. What a network is built from
(`NETWORK_NAMES`, the unknowns of `uncertainty.PRIORS`) follows from them run by run.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array
from thermal_model.bench.records import Bench, Run
from thermal_model.uncertainty import PRIORS, Scope

NETWORK_NAMES = tuple(PRIORS)
"""Unknowns a network is built from, in the order of the columns that hold them."""

COMMON_NAMES = tuple(name for name, prior in PRIORS.items() if prior.scope is Scope.COMMON)
CONTAINER_NAMES = tuple(name for name, prior in PRIORS.items() if prior.scope is Scope.CONTAINER)
RUN_NAMES = tuple(name for name, prior in PRIORS.items() if prior.scope is Scope.RUN)

PRESSURE, EMISSIVITY = "gap_pressure", "gap_emissivity"

SEATING_SPREAD = "seating_spread"
SEATING = {"seal_seating": ("annulus_exchange", "lid_leak"), "contact_seating": ("lid_contact",)}
"""Run effects of a lid that seats differently each time, and what each of them multiplies."""

TYPICAL_SEATING = 0.2
"""Run-to-run standard deviation of the logarithm of what a lid's seat lets through [-]; judgement, no source."""

SEATING_WIDTH = 0.5
"""Standard deviation of the logarithm of TYPICAL_SEATING itself [-]; judgement, no source.

Only a sample of the posterior learns it. The most probable point of all unknowns at once would make it as large as can
be, since then no seat costs anything; there it keeps its typical value.
"""

RATE_LEVEL, RATE_TILT = "rate_level", "rate_tilt"
RATE_SPREAD = 0.012
"""What the model leaves out, as an error of the rate of cooling: constant over a run, and turning over it [-].

The network with doubled resolution moves UA by less than 0.3 %, correlations of the films are good to 10 % and more
but are fitted; 1.2 % each is judgement. Without it, five hundred readings of one log would seem to say twenty times
more than one.
"""

PLACEMENT = "placement"
PLACEMENT_SPREAD = 0.2
"""What a probe shows differently from run to run for where it hangs [K]; judgement, no source."""

OFFSET = "offset"

EFFECTS = ("start", RATE_LEVEL, RATE_TILT, PLACEMENT)
"""Effects of a run that are large where something went wrong in it."""

WORDS = {
    SEATING_SPREAD: "how differently lids seat from run to run",
    "seal_seating": "how the seal sat in this run",
    "contact_seating": "how the lid touched the lip in this run",
    RATE_LEVEL: "what the model leaves out, level",
    RATE_TILT: "what the model leaves out, over time",
    PLACEMENT: "where the probe hung in this run",
    OFFSET: "offset of the probe",
}


class Owner(StrEnum):
    """Whose a coordinate is."""

    COMMON = "common"
    CONTAINER = "container"
    RUN = "run"
    PROBE = "probe"


@dataclass(frozen=True)
class Coordinate:
    """One unknown of a calibration.

    Attributes
    ----------
    kind : Owner
    owner : str
        Name of the container, run or probe; "" if common.
    name : str
        A key of PRIORS or of WORDS.
    """

    kind: Owner
    owner: str
    name: str

    @property
    def label(self) -> str:
        """In plain words, without the owner."""
        return PRIORS[self.name].label if self.name in PRIORS else WORDS[self.name]


@dataclass(frozen=True)
class Coordinates:
    """All unknowns of a bench, in order: common, of containers, of probes, of runs."""

    listed: tuple[Coordinate, ...]

    @classmethod
    def of_bench(cls, bench: Bench) -> "Coordinates":
        """List what a bench can speak of."""
        own = [Coordinate(Owner.CONTAINER, c, name) for c in bench.containers for name in CONTAINER_NAMES]
        probes = [Coordinate(Owner.PROBE, probe, OFFSET) for probe in bench.probes]
        of_run = (*RUN_NAMES, *SEATING, RATE_LEVEL, RATE_TILT, PLACEMENT)
        runs = [Coordinate(Owner.RUN, run.name, name) for run in bench.runs for name in of_run]
        common = [Coordinate(Owner.COMMON, "", name) for name in (*COMMON_NAMES, SEATING_SPREAD)]
        return cls((*common, *own, *probes, *runs))

    @property
    def count(self) -> int:
        """Number of coordinates p."""
        return len(self.listed)

    @cached_property
    def _places(self) -> dict[Coordinate, int]:
        return {coordinate: place for place, coordinate in enumerate(self.listed)}

    def effect_places(self, runs: Sequence[Run]) -> NDArray[np.intp]:
        """Return the places of EFFECTS of r runs, (r, 4)."""
        places = [[self.place(Owner.RUN, run.name, name) for name in EFFECTS] for run in runs]
        return np.array(places, dtype=np.intp).reshape(-1, len(EFFECTS))

    @cached_property
    def growth(self) -> Array:
        """Rates of the coordinates that count by their factor, (p,): heat through a thin gas goes as its pressure."""
        return np.array([PRIORS[c.name].width if c.name == PRESSURE else 0.0 for c in self.listed])

    def straight(self, x: Array, at: Array) -> Array:
        """Return the way from one point to another in what the model is nearly straight in, (p,).

        That is a pressure instead of its logarithm; near `at` it is the difference.
        """
        rate = np.where(self.growth > 0.0, self.growth, 1.0)
        return np.where(self.growth > 0.0, np.expm1(_within(rate * (x - at))) / rate, x - at)

    def straight_slopes(self, x: Array, at: Array) -> Array:
        """Return the derivatives of `straight`, each by its own coordinate, (p,)."""
        return np.exp(_within(self.growth * (x - at)))

    def place(self, kind: Owner, owner: str, name: str) -> int:
        """Return the place of a coordinate in the list."""
        return self._places[Coordinate(kind, owner, name)]

    def places_of(self, kind: Owner, owner: str = "") -> list[int]:
        """Return the places of all that one owner has."""
        return [place for place, c in enumerate(self.listed) if c.kind is kind and c.owner == owner]

    def belief_places(self, container: str | None) -> tuple[tuple[str, ...], list[int]]:
        """Return names and places of what a calibration says of a container, common ones first; None: common only."""
        common = [self.place(Owner.COMMON, "", name) for name in COMMON_NAMES]
        if container is None:
            return COMMON_NAMES, common
        own = [self.place(Owner.CONTAINER, container, name) for name in CONTAINER_NAMES]
        return (*COMMON_NAMES, *CONTAINER_NAMES), [*common, *own]

    def network_places(self, run: Run) -> list[int]:
        """Return the places of the unknowns of a run's network, in the order of NETWORK_NAMES."""
        owners = {
            Scope.COMMON: (Owner.COMMON, ""),
            Scope.CONTAINER: (Owner.CONTAINER, run.container),
            Scope.RUN: (Owner.RUN, run.name),
        }
        return [self.place(*owners[prior.scope], name) for name, prior in PRIORS.items()]

    def network_slopes(self, run: Run, x: Array) -> tuple[Array, Array, Array]:
        """Return the derivative of `NetworkMap.normals` of a run by the coordinates: rows, columns, values."""
        rows = list(range(len(NETWORK_NAMES)))
        columns = self.network_places(run)
        values = [1.0] * len(rows)
        spread = seating_spread(x[self.spread_place])
        for effect, names in SEATING.items():
            place = self.place(Owner.RUN, run.name, effect)
            for name in names:
                by_effect = spread / PRIORS[name].width
                rows += [NETWORK_NAMES.index(name)] * 2
                columns += [place, self.spread_place]
                values += [by_effect, by_effect * SEATING_WIDTH * float(x[place])]
        return np.array(rows), np.array(columns), np.array(values)

    def network_map(self, runs: Sequence[Run]) -> "NetworkMap":
        """Return what the networks of some runs are built from."""
        return NetworkMap(
            places=np.array([self.network_places(run) for run in runs], dtype=np.intp),
            seats={
                effect: np.array([self.place(Owner.RUN, run.name, effect) for run in runs], dtype=np.intp)
                for effect in SEATING
            },
            spread_place=self.spread_place,
        )

    @cached_property
    def spread_place(self) -> int:
        """Place of how differently lids seat from run to run."""
        return self.place(Owner.COMMON, "", SEATING_SPREAD)


FARTHEST_GROWTH = 5.0
"""A factor is followed no further than exp of this."""


def _within(logarithm: Array) -> Array:
    return np.clip(logarithm, -FARTHEST_GROWTH, FARTHEST_GROWTH)


@dataclass(frozen=True)
class NetworkMap:
    """From all coordinates to what the networks of r runs are built from.

    Attributes
    ----------
    places : (r, k) int array
        Of each unknown of NETWORK_NAMES among the coordinates.
    seats : dict of str to (r,) int array
        Places of each seating effect.
    spread_place : int
        Of the seating's spread.
    """

    places: NDArray[np.intp]
    seats: dict[str, NDArray[np.intp]]
    spread_place: int

    def normals(self, x: Array) -> Array:
        """Return the standard normals of all runs' networks, (r, k)."""
        normals = x[self.places]
        spread = seating_spread(x[self.spread_place])
        for effect, seats in self.seats.items():
            for name in SEATING[effect]:
                normals[:, NETWORK_NAMES.index(name)] += spread * x[seats] / PRIORS[name].width
        return normals


def seating_spread(standard_normal: float) -> float:
    """Return the run-to-run standard deviation of what a lid's seat lets through, as a logarithm."""
    return TYPICAL_SEATING * float(np.exp(SEATING_WIDTH * standard_normal))
