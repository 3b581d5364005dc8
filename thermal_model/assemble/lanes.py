"""Runs as lanes of one batch: the one key that says which can share a network, and records whose numbers are arrays.

A network's nodes and links follow from kinds, counts and names, from whether a field is given, and from a few numbers:
`alike` is the only place that knows which.
"""

from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from pydantic import BaseModel

from geometries.container import Container
from geometries.numeric import Array, Numeric
from thermal_model.assemble.timeline import pattern_numbers
from thermal_model.scenario import RoomProfile, Scenario
from thermal_model.solver.scatter import Indices
from thermal_model.unknowns import GUESSED, UNKNOWN_NAMES, Unknowns

_NOT_IN_NETWORK = ("name", "title", "summary", "unsure", "materials", "surfaces")
"""Words; and tables of what the names in the parts carry with them."""

_SHARED: dict[type[BaseModel], tuple[str, ...]] = {RoomProfile: ("times", "temperatures")}
"""Numbers that are the same in all lanes of a network."""


@dataclass(frozen=True)
class Lanes:
    """Runs of one structure, n in all; any number in them may be a float, the same in all, or an (n,) array."""

    container: Container
    scenario: Scenario
    unknowns: Unknowns = GUESSED
    count: int = 1

    @property
    def key(self) -> Hashable:
        """All but the numbers: runs of one key can be joined; `alike` says which of them share a network."""
        return _structure(self.container), _structure(self.scenario)

    def take(self, lanes: Indices) -> "Lanes":
        """Return some lanes only, every number an array.

        So a lane's numbers go through the same arithmetic alone as among others: a float's power is not an array's.
        """

        def taken(numbers: Sequence[Numeric]) -> Array:
            return _lanes_of(numbers[0], self.count)[lanes]

        own = self.container, self.scenario, self.unknowns
        container, scenario, unknowns = (_combined([each], taken) for each in own)
        return Lanes(container, scenario, unknowns, len(lanes))

    @classmethod
    def joined(cls, parts: Sequence[Self]) -> "Lanes":
        """Return runs of one key as one batch, part after part."""
        counts = [part.count for part in parts]

        def joined(numbers: Sequence[Numeric]) -> Array:
            return np.concatenate([_lanes_of(number, count) for number, count in zip(numbers, counts, strict=True)])

        records = zip(*((part.container, part.scenario, part.unknowns) for part in parts), strict=True)
        container, scenario, unknowns = (_combined(each, joined) for each in records)
        return Lanes(container, scenario, unknowns, sum(counts))


def alike(lanes: Lanes) -> list[Indices]:
    """Return the lanes that share a network, group by group."""
    pattern = np.stack(list(_patterns(lanes)))
    _, group = np.unique(pattern, axis=1, return_inverse=True)
    return [np.flatnonzero(group == number) for number in range(group.max(initial=-1) + 1)]


def joined_alike(parts: Sequence[Lanes]) -> Iterator[tuple[Indices, Lanes]]:
    """Yield batches that share a network, with the place of each of their lanes in all parts, one after the other."""
    first = np.cumsum([0, *(part.count for part in parts)])
    members: dict[Hashable, list[int]] = {}
    for number, part in enumerate(parts):
        members.setdefault(part.key, []).append(number)
    for numbers in members.values():
        places = np.concatenate([np.arange(first[k], first[k + 1]) for k in numbers])
        whole = Lanes.joined([parts[k] for k in numbers]) if len(numbers) > 1 else parts[numbers[0]]
        for same in alike(whole):
            yield places[same], whole.take(same)


def _patterns(lanes: Lanes) -> Iterator[Array]:
    """Yield what numbers decide of a network, an (n,) array each."""
    container, scenario, count = lanes.container, lanes.scenario, lanes.count
    yield pattern_numbers(container, scenario, count)
    lid = container.lid
    if lid is None:
        return
    yield np.where(_lanes_of(lid.skirt_length, count) > 0.0, 1.0, 0.0)


def _is_number(value: Any) -> bool:
    return isinstance(value, float | np.ndarray)


def _structure(value: Any) -> Any:
    if _is_number(value):
        return "number"
    if isinstance(value, BaseModel):
        shared = _SHARED.get(type(value), ())
        inner = {name: getattr(value, name) for name in type(value).model_fields if name not in _NOT_IN_NETWORK}
        return tuple(entry if name in shared else _structure(entry) for name, entry in inner.items())
    if isinstance(value, tuple):
        return tuple(_structure(entry) for entry in value)
    return value


def _combined(values: Sequence[Any], combine: Callable[[Sequence[Numeric]], Array]) -> Any:
    """Return a record, or a part of one, whose numbers are made of those of records that are alike."""
    first = values[0]
    if _is_number(first):
        return combine(values)
    if isinstance(first, tuple):
        return tuple(_combined(entries, combine) for entries in zip(*values, strict=True))
    if isinstance(first, Unknowns):
        return Unknowns(**{name: combine([getattr(value, name) for value in values]) for name in UNKNOWN_NAMES})
    if not isinstance(first, BaseModel):
        return first
    shared = _SHARED.get(type(first), ())
    own = {name: [getattr(value, name) for value in values] for name in type(first).model_fields if name not in shared}
    return first.model_copy(update={name: _combined(entries, combine) for name, entries in own.items()})


def _lanes_of(value: Numeric, count: int) -> Array:
    return np.broadcast_to(np.asarray(value, dtype=float), (count,))
