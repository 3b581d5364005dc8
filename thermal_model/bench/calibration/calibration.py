"""A calibration whole: the fit, what it predicts of runs left out, what it can't tell apart, what looks wrong."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from geometries.display import Displayed, Listing
from thermal_model.bench.calibration.coordinates import PLACEMENT, PLACEMENT_SPREAD, RATE_LEVEL, Coordinate, Owner
from thermal_model.bench.calibration.fit import Fit, fit
from thermal_model.bench.calibration.identifiability import Confusion, confusions
from thermal_model.bench.calibration.posterior import findings
from thermal_model.bench.calibration.run_faults import EXPLANATIONS, GOOD
from thermal_model.bench.calibration.sampling import ALIKE, Sampled, sample, with_sample
from thermal_model.bench.calibration.validation import Validation, leave_one_out
from thermal_model.bench.records import Bench, Run
from thermal_model.work_done import ShareDone, part_of

MOST_LISTED = 12
"""Unknowns shown of a calibration, those that moved most."""

LEAST_TOLD = 0.01
"""Explanations of a run less probable than this are not told. [-]"""

UNTRUSTED = "the room temperature was not measured"


@dataclass(frozen=True)
class OddRun:
    """A run in which something probably went wrong.

    Attributes
    ----------
    run : str
    causes : tuple of (str, float)
        What would explain it, in words, and how probable each is; the most probable first.
    """

    run: str
    causes: tuple[tuple[str, float], ...]


@dataclass(frozen=True, repr=False)
class Calibration(Displayed):
    """A bench, calibrated.

    Attributes
    ----------
    fit : Fit
    validation : Validation
    confusions : tuple of Confusion
    odd_runs : tuple of OddRun
        Not dropped; what they say is weighed by how they may have gone.
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
    bench: Bench, *, wants_sample: bool = False, seed: int = 1, progress: ShareDone | None = None
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
    if drawn.unlike_fit:
        warnings += (_unlike(drawn),)
    found = with_sample(whole.fit, drawn)
    return replace(whole, fit=found, odd_runs=tuple(odd_runs(found)), warnings=warnings, sampled=drawn)


def _unlike(drawn: Sampled) -> str:
    """Return which intervals of the fit alone are not those of the sample."""
    return (
        f"without --sample the intervals of {len(drawn.unlike_fit)} of {drawn.draws.shape[1]} unknowns are off by more "
        f"than {100.0 * ALIKE:.0f} % of their width: {_labels(drawn.unlike_fit)}; those given here are the sample's"
    )


def _labels(coordinates: tuple[Coordinate, ...]) -> str:
    return _listed([f"{c.label}{f' ({c.owner})' if c.owner else ''}" for c in coordinates], most=3)


def odd_runs(found: Fit) -> list[OddRun]:
    """Return the runs in which something probably went wrong, the surest first."""
    odd, runs = [], found.problem.bench.runs
    for number, chances in enumerate(found.explained.probabilities):
        if chances[GOOD] < 0.5:
            order = [int(k) for k in np.argsort(-chances) if chances[k] > LEAST_TOLD]
            causes = tuple((_cause(found, runs[number], k), float(chances[k])) for k in order)
            odd.append((float(chances[GOOD]), OddRun(runs[number].name, causes)))
    return [one for _, one in sorted(odd, key=lambda item: item[0])]


def _cause(found: Fit, run: Run, explanation: int) -> str:
    """Return an explanation of a run, in words."""
    name, is_hot = EXPLANATIONS[explanation].name, run.scenario.start > run.scenario.room
    if name == "good":
        return "nothing went wrong"
    if name == "several":
        return "several things at once, or something else"

    def effect(of: str) -> float:
        return float(found.centre[found.coordinates.place(Owner.RUN, run.name, of)])

    if name == "placement":
        shift = effect(PLACEMENT) * PLACEMENT_SPREAD
        size = f"{abs(shift):.1f} K {'less' if shift < 0.0 else 'more'}"
        return f"the display showed {size} all along: a probe that touches the wall, or slipped"
    if name == "start":
        if (effect("start") > 0.0) == is_hot:
            return "it lost less on pouring than the other runs: a container not soaked, or poured hotter than written"
        return "it lost more on pouring than the other runs: walls still cold, or poured otherwise than written"
    verb = "cooled" if is_hot else "warmed"
    if effect(RATE_LEVEL) > 0.0:
        return f"it {verb} faster than the other runs: a lid not seated, or a draught"
    return f"it {verb} more slowly than the other runs: a warm place, or more contents"


def warnings_of(found: Fit) -> list[str]:
    """Return why a calibration can't be trusted, or not fully."""
    bench = found.problem.bench
    lines: list[str] = []
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
        lines.append(
            "the fit did not come to rest, so that it can't be trusted; look at the odd runs, and at what their "
            "readings say"
        )
    return lines


def _listed(names: list[str], most: int = 6) -> str:
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


def _unsettled(drawn: Sampled) -> str:
    """Return what to know of chains that do not agree well enough."""
    about = f"about {_labels(drawn.unsettled)} of {drawn.draws.shape[1]} unknowns" if drawn.unsettled else "everywhere"
    return f"the chains do not agree well enough {about}; their intervals may be off: compare another --seed"
