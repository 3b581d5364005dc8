"""Making a bundle's results again, and telling where they differ."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geometries.container import Container
from geometries.errors import InputError
from geometries.validation import Record, validated
from thermal_model.bench.calibration.calibration_file import calibration_document
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.write.descriptor import DESCRIPTOR
from thermal_model.bundle.pack import BENCH, CALIBRATION, DESIGNS, RANKINGS, RECIPE, versions
from thermal_model.bundle.recipe import Made, Recipe, make
from thermal_model.bundle.unpack import read_document
from thermal_model.report.compare_text import ranking_document
from thermal_model.work_done import ShareDone

TIME_TOLERANCE = 0.005
"""By how much hold times and the ends of their intervals may differ, of themselves. [-]"""

WIDTH_TOLERANCE = 0.02
"""By how much calibrated unknowns may differ, in standard deviations of what was assumed before. [-]"""

_TIMES = ("nominal", "median", "low", "high")


@dataclass(frozen=True)
class Difference:
    """Something that came out otherwise.

    Attributes
    ----------
    where : str
        The list and the container, or the calibration and the unknown.
    what : str
        What differs, in words.
    """

    where: str
    what: str


@dataclass(frozen=True)
class Reproduction:
    """What came of making a bundle's results again.

    Attributes
    ----------
    differences : tuple of Difference
        Beyond the tolerance; none if it was reproduced.
    same_lists : tuple of str
        Names of those in the same order and with the same tiers.
    largest_time : float
        Largest relative difference of a hold time or an end of its interval. [-]
    largest_unknown : float
        Largest difference of a calibrated unknown, in standard deviations of what was assumed. [-]
    compared : int
        Numbers that were compared.
    versions : dict of str to (str, str)
        Of what computed then and now, where they differ.
    """

    differences: tuple[Difference, ...]
    same_lists: tuple[str, ...]
    largest_time: float
    largest_unknown: float
    compared: int
    versions: dict[str, tuple[str, str]]

    @property
    def is_same(self) -> bool:
        """Whether the rankings are the same and all numbers lie within the tolerance."""
        return not self.differences


def reproduce(folder: Path, *, tolerance: float = TIME_TOLERANCE, progress: ShareDone | None = None) -> Reproduction:
    """Make a bundle's results again from its bench, its designs and its recipe, and compare.

    Parameters
    ----------
    folder : Path
        Of a bundle that was checked, as `unpack.opened` yields.
    tolerance : float
        Of times. [-]
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If the bench, a design, the recipe or the results can't be read.
    """
    recipe = _record(Recipe, folder, RECIPE)
    before = _mapping(folder, RANKINGS), _mapping(folder, CALIBRATION)
    designs = _designs(folder)
    bench = read_bench(folder / BENCH, designs=designs)
    for name in bench.containers.keys() - designs.keys():
        raise InputError("is missing; the bundle is damaged", source=f"{DESIGNS}/{name}.json")
    made = make(bench, recipe, progress)
    numbers = list(_numbers(before[0], before[1], made))
    places = list(_places(before[0], made))
    return Reproduction(
        differences=(*places, *_beyond(numbers, tolerance)),
        same_lists=tuple(name for name in made.rankings if name not in {one.where for one in places}),
        largest_time=max((n.gap for n in numbers if n.is_time), default=0.0),
        largest_unknown=max((n.gap for n in numbers if not n.is_time), default=0.0),
        compared=len(numbers),
        versions=_versions(_mapping(folder, DESCRIPTOR)),
    )


def _mapping(folder: Path, path: str) -> dict[str, Any]:
    document = read_document(folder, path)
    if not isinstance(document, dict):
        raise InputError("is no JSON object; the bundle is damaged", source=path)
    return document


def _designs(folder: Path) -> dict[str, Container]:
    """Return the containers as they were, whatever the catalogue has become since."""
    names = sorted(path.stem for path in (folder / DESIGNS).glob("*.json"))
    return {name: _record(Container, folder, f"{DESIGNS}/{name}.json") for name in names}


def _record(kind: type[Record], folder: Path, path: str) -> Record:
    """Return what a file describes. Nobody writes it by hand, so all that is wrong in it is told in one line."""
    try:
        return validated(kind, _mapping(folder, path), path, needs_unit=False)
    except InputError as error:
        if len(error.problems) == 1:
            raise
        fields = ", ".join(problem.field for problem in error.problems)
        raise InputError("not as a bundle has them; the bundle was changed", fields, source=path) from None


def _versions(package: Mapping[str, Any]) -> dict[str, tuple[str, str]]:
    now, then = versions(), package.get("versions")
    then = then if isinstance(then, dict) else {}
    return {
        name: (str(then.get(name, "none")), now.get(name, "none"))
        for name in sorted(now.keys() | then.keys())
        if str(then.get(name)) != now.get(name)
    }


# --- numbers ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Number:
    """A number then and now, None where there was none."""

    where: str
    then: float | None
    now: float | None
    is_time: bool

    @property
    def gap(self) -> float:
        """How far apart: of times the relative difference, of unknowns the plain one. [-]"""
        if self.then is None or self.now is None:
            return 0.0 if self.then is self.now else math.inf
        gap = abs(self.now - self.then)
        return gap / max(abs(self.then), 1.0) if self.is_time else gap


def _numbers(rankings: Mapping[str, Any], calibration: Mapping[str, Any], made: Made) -> Iterator[_Number]:
    read = RANKINGS
    try:
        for name, ranking in made.rankings.items():
            now = {row["name"]: row for row in ranking_document(ranking)["standings"]}
            for row in rankings[name]["standings"]:
                for key in _TIMES:
                    fresh = now[row["name"]]["predicted_s"][key] if row["name"] in now else None
                    where = f"{name}: {row['name']}: {key}"
                    yield _Number(where, _number(row["predicted_s"][key]), fresh, is_time=True)
        read = CALIBRATION
        yield from _unknowns(calibration, calibration_document(made.fit))
    except (KeyError, TypeError, ValueError, AttributeError, IndexError):
        raise InputError("lacks results that a bundle has; the bundle was changed", source=read) from None


def _unknowns(then: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[_Number]:
    """Yield the calibrated unknowns, and how well each is known."""
    blocks = {"all containers": (then["common"], now["common"])}
    blocks |= {name: (then["containers"].get(name), block) for name, block in now["containers"].items()}
    for owner, (old, new) in blocks.items():
        known = {} if old is None else dict(zip(old["names"], _centres(old), strict=True))
        for name, (centre, width) in zip(new["names"], _centres(new), strict=True):
            was = known.get(name, (None, None))
            yield _Number(f"calibration: {owner}: {name}", was[0], centre, is_time=False)
            yield _Number(f"calibration: {owner}: {name}, how well known", was[1], width, is_time=False)


def _centres(block: Mapping[str, Any]) -> list[tuple[float, float]]:
    covariance = block["covariance"]
    return [(float(mean), math.sqrt(float(covariance[k][k]))) for k, mean in enumerate(block["mean"])]


def _number(value: Any) -> float | None:
    return None if value is None else float(value)


def _beyond(numbers: Sequence[_Number], tolerance: float) -> Iterator[Difference]:
    for number in numbers:
        if number.gap > (tolerance if number.is_time else WIDTH_TOLERANCE):
            unit = " s" if number.is_time else ""
            then, now = ("none" if v is None else f"{v:.6g}{unit}" for v in (number.then, number.now))
            yield Difference(number.where, f"{then} in the bundle, {now} here")


def _places(before: Mapping[str, Any], made: Made) -> Iterator[Difference]:
    """Yield lists whose order or whose tiers differ."""
    for name, ranking in made.rankings.items():
        rows = before.get(name, {}).get("standings", [])
        now = [(standing.entry.name, standing.tier) for standing in ranking.standings]
        then = [(row.get("name"), row.get("tier")) for row in rows]
        if [one for one, _ in then] != [one for one, _ in now]:
            order = " > ".join(one for one, _ in now)
            yield Difference(
                name, f"another order: {' > '.join(str(one) for one, _ in then)} in the bundle, {order} here"
            )
        elif then != now:
            moved = [one for (one, tier), (_, was) in zip(now, then, strict=True) if tier != was]
            yield Difference(name, f"another tier: {', '.join(moved)}")
