"""What a bundle makes of its bench: a calibration, and lists of the containers under common conditions."""

from dataclasses import dataclass

from pydantic import BaseModel, ConfigDict, Field

from geometries.container import Container
from thermal_model.bench.calibration.fit import Fit, fit
from thermal_model.bench.calibration.posterior import belief
from thermal_model.bench.records import Bench
from thermal_model.judge.compare import Entry, Ranking, rank_each
from thermal_model.scenario import Scenario
from thermal_model.work_done import ShareDone, part_of


class ListRecipe(BaseModel):
    """One list: conditions and a limit temperature [K]."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    scenario: Scenario
    limit: float = Field(alias="until_K", gt=0.0, allow_inf_nan=False)


class Recipe(BaseModel):
    """How results are made of a bench.

    Attributes
    ----------
    lists : dict of str to ListRecipe
        By name: hot, cold, ...
    draws, seed : int
        Of the sample behind intervals and tiers.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    lists: dict[str, ListRecipe] = Field(min_length=1, max_length=8)
    draws: int = Field(ge=0, le=100_000)
    seed: int = Field(ge=0)


@dataclass(frozen=True)
class Made:
    """What a recipe makes of a bench: the fit, and a ranking for each list."""

    fit: Fit
    rankings: dict[str, Ranking]


def make(bench: Bench, recipe: Recipe, progress: ShareDone | None = None) -> Made:
    """Calibrate on a bench, and rank its containers in each list's conditions.

    Parameters
    ----------
    bench : Bench
    recipe : Recipe
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If a list's conditions can't be.
    """
    found = fit(bench, progress=part_of(progress, 0.0, 0.6))
    on_bench = {run.container for run in bench.runs}
    entries = [_entry(name, container, found, on_bench) for name, container in sorted(bench.containers.items())]
    conditions = {name: (wanted.scenario, wanted.limit) for name, wanted in recipe.lists.items()}
    told = part_of(progress, 0.6, 1.0)
    rankings = rank_each(entries, conditions, draws=recipe.draws, seed=recipe.seed, progress=told)
    return Made(found, rankings)


def _entry(name: str, container: Container, found: Fit, on_bench: set[str]) -> Entry:
    benched_as = name if name in on_bench else None
    return Entry(name, container, belief(found, benched_as, seats_anew=False), benched_as)
