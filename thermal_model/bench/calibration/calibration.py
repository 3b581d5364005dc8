"""A calibration whole: the fit, what it predicts of runs left out, what it can't tell apart, what looks wrong."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from geometries.display import Displayed, Listing
from thermal_model.bench.calibration.coordinates import PLACEMENT, PLACEMENT_SPREAD, RATE_LEVEL, SEATING, Owner
from thermal_model.bench.calibration.fit import Fit, ShareDone, fit, part_of
from thermal_model.bench.calibration.identifiability import Confusion, confusions
from thermal_model.bench.calibration.posterior import findings
from thermal_model.bench.calibration.sampling import Sampled, sample, with_sample
from thermal_model.bench.calibration.validation import Validation, leave_one_out
from thermal_model.bench.records import Bench, Run

MOST_LISTED = 12
"""Unknowns shown of a calibration, those that moved most."""

ODD = 3.0
"""A run effect this many times its usual size is told. [-]"""

UNTRUSTED = "the room temperature was not measured"


@dataclass(frozen=True)
class OddRun:
    """A run that does not go with the others.

    Attributes
    ----------
    run : str
    size : float
        Of its largest effect, in usual sizes.
    cause : str
        What would explain it.
    weight : float
        What its readings count on average, against what readings of a good run count.
    """

    run: str
    size: float
    cause: str
    weight: float


@dataclass(frozen=True, repr=False)
class Calibration(Displayed):
    """A bench, calibrated.

    Attributes
    ----------
    fit : Fit
    validation : Validation
    confusions : tuple of Confusion
    odd_runs : tuple of OddRun
        Not dropped; they count less.
    warnings : tuple of str
        Why the result can't be trusted, or not fully.
    sampled : Sampled or None
        Draws of the whole posterior; `fit` then has their centre and covariance.
    """

    fit: Fit
    validation: Validation
    confusions: tuple[Confusion, ...]
    odd_runs: tuple[OddRun, ...]
    warnings: tuple[str, ...]
    sampled: Sampled | None = None

    def _line(self) -> str:
        bench = self.fit.problem.bench
        return f"on {bench.name}: {len(bench.runs)} runs of {len(bench.containers)} containers"

    def _tables(self) -> Iterator[Listing]:
        moved = sorted(findings(self.fit), key=lambda finding: -abs(finding.moved))[:MOST_LISTED]
        rows = [(f.coordinate.label, f.coordinate.owner, f"{f.moved:+.2f}", f"{f.spread:.2f}") for f in moved]
        yield Listing("In standard deviations of the prior", rows, ("unknown", "of", "moved by", "left of its spread"))
        if self.warnings:
            yield Listing("Warnings", [(line,) for line in self.warnings])


def calibrate(
    bench: Bench, *, wants_sample: bool = False, seed: int = 1, progress: Callable[[float], None] | None = None
) -> Calibration:
    """Fit a bench, predict each of its runs from the others, and say what can't be told.

    Parameters
    ----------
    bench : Bench
    wants_sample : bool
        Draw from the whole posterior, instead of the normal distribution about its most probable point.
    seed : int
        Of the draws.
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If there is nothing to fit.
    """
    fitted = 1.0 - SAMPLED if wants_sample else 1.0
    found = fit(bench, progress=part_of(progress, 0.0, 0.7 * fitted))
    validation = leave_one_out(found)
    confused = tuple(confusions(found))
    if progress is not None:
        progress(fitted)
    whole = Calibration(found, validation, confused, tuple(odd_runs(found)), tuple(warnings_of(found)))
    return _sampled(whole, seed, part_of(progress, fitted, 1.0)) if wants_sample else whole


SAMPLED = 0.9
"""Share of the work that a sample is. [-]"""


def _sampled(whole: Calibration, seed: int, progress: ShareDone | None) -> Calibration:
    drawn = sample(whole.fit, seed, progress=progress)
    warnings = whole.warnings
    if not drawn.is_good:
        warnings += (_unsettled(drawn),)
    return replace(whole, fit=with_sample(whole.fit, drawn), warnings=warnings, sampled=drawn)


def odd_runs(found: Fit) -> list[OddRun]:
    """Return the runs that do not go with the others, oddest first."""
    odd = []
    for number, run in enumerate(found.problem.bench.runs):
        effects = {
            name: float(found.x[found.coordinates.place(Owner.RUN, run.name, name)])
            for name in ("start", *SEATING, RATE_LEVEL, PLACEMENT)
        }
        name = max(effects, key=lambda key: abs(effects[key]))
        rows = found.evidence.of_run(number)
        weight = float(np.mean(found.weights[rows])) / (5.0 / 7.0) if len(rows) else 1.0
        if abs(effects[name]) >= ODD:
            odd.append(OddRun(run.name, abs(effects[name]), _cause(name, effects[name], run), weight))
    return sorted(odd, key=lambda item: -item.size)


def _cause(name: str, effect: float, run: Run) -> str:
    """Return what would explain an effect, in words."""
    is_hot = run.scenario.start > run.scenario.room
    if name == PLACEMENT:
        word = "less" if effect < 0.0 else "more"
        shift = abs(effect) * PLACEMENT_SPREAD
        return f"the display showed {shift:.1f} K {word} all along: a probe that touches the wall, or slipped"
    if name == "start":
        if (effect > 0.0) == is_hot:
            return "it lost less on pouring than the other runs: a container not soaked, or poured hotter than written"
        return "it began nearer the room than the other runs: a probe at the wall, or poured otherwise than written"
    if name in SEATING or effect > 0.0:
        return f"it {'cooled' if is_hot else 'warmed'} faster than the other runs: a lid not seated, or a draught"
    return f"it {'cooled' if is_hot else 'warmed'} more slowly than the other runs: a warm place, or more contents"


def warnings_of(found: Fit) -> list[str]:
    """Return why a calibration can't be trusted, or not fully."""
    bench = found.problem.bench
    lines = []
    blind = [run.name for run in bench.runs if not np.isfinite(run.room_spread)]
    if blind:
        lines.append(
            f"{UNTRUSTED} in {_listed(blind)}: taken to lie anywhere from 15 to 30 C; what rests on "
            "these runs can't be trusted. Log the room."
        )
    unpoured = [run.name for run in bench.runs if not np.isfinite(run.start_spread)]
    if unpoured:
        lines.append(f"the start temperature was not measured in {_listed(unpoured)}: left to the readings")
    alone = [name for name in bench.containers if sum(run.container == name for run in bench.runs) == 1]
    if alone:
        lines.append(f"only one run of {_listed(alone)}: how it seats from run to run is taken as usual")
    if not found.converged:
        lines.append("the fit did not come to rest; look at the odd runs, and at what their readings say")
    return lines


def _listed(names: list[str]) -> str:
    return ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")


def _unsettled(drawn: Sampled) -> str:
    """Return what to know of chains that do not agree well enough."""
    named = [f"{c.label}{f' ({c.owner})' if c.owner else ''}" for c in drawn.unsettled[:3]]
    more = f" and {len(drawn.unsettled) - 3} more" if len(drawn.unsettled) > 3 else ""
    about = f"about {', '.join(named)}{more}" if named else "everywhere"
    return (
        f"the chains do not agree well enough {about} of {drawn.draws.shape[1]} unknowns (R-hat "
        f"{drawn.largest_r_hat:.3f}, effective size {drawn.smallest_size:.0f}, {drawn.divergences} divergences); their "
        "intervals may be off: compare another --seed"
    )
