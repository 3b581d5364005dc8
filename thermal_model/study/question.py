"""A hold time that is asked of many designs: what they start from, and the limit."""

from collections.abc import Iterable
from dataclasses import dataclass

from geometries.container import Container
from geometries.errors import InputError
from geometries.overrides import with_values
from geometries.validation import validated
from thermal_model.batch import SCENARIO, BatchResult, Table, evaluate
from thermal_model.follow import DEFAULT_HORIZON
from thermal_model.prediction import check_run
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Outcome
from thermal_model.uncertainty import Belief, Sample, at_centre, draw_sample
from thermal_model.unknowns import GUESSED, Unknowns
from thermal_model.work_done import ShareDone


@dataclass(frozen=True)
class Question:
    """How long do designs hold, that differ from one in a table of values?

    Attributes
    ----------
    container : Container
    scenario : Scenario
    limit : float
        [K]
    horizon : float
        Longest time a run is followed. [s]
    unknowns : Unknowns
        Of the container.
    belief : Belief, optional
        What readings leave unknown about container and unknowns; left out, the priors.
    """

    container: Container
    scenario: Scenario
    limit: float
    horizon: float = DEFAULT_HORIZON
    unknowns: Unknowns = GUESSED
    belief: Belief | None = None

    @classmethod
    def calibrated(cls, container: Container, scenario: Scenario, limit: float, belief: Belief | None) -> "Question":
        """Ask about a container as a calibration knows it, if there is one."""
        if belief is None:
            return cls(container, scenario, limit)
        known, unknowns = at_centre(container, belief)
        return cls(known, scenario, limit, unknowns=unknowns, belief=belief.about_centre)

    def sample(self, draws: int, seed: int) -> Sample:
        """Return draws of what is not known, the best guess first."""
        return draw_sample(self.container, self.scenario, draws, seed, belief=self.belief)

    def answers(self, table: Table, progress: ShareDone | None = None) -> BatchResult:
        """Return the hold times of the rows of a table."""
        return evaluate(
            self.container,
            self.scenario,
            table,
            [self.limit],
            horizon=self.horizon,
            unknowns=self.unknowns,
            progress=progress,
        )

    def check_values(self, path: str, values: Iterable[float], source: str) -> None:
        """Refuse scenarios that can't be, or whose contents are past the limit or never get there.

        Parameters
        ----------
        path : str
            Of what is varied; those of the container are left to the rows.
        values : iterable of float
            The least and the largest will do. [SI]
        source : str
            Option they came from.

        Raises
        ------
        InputError
        """
        if not path.startswith(SCENARIO):
            return
        for value in values:
            changed = with_values(self.scenario, {path.removeprefix(SCENARIO): float(value)})
            try:
                validated(Scenario, changed.model_dump(mode="json", exclude_none=True))
                check_run(self.container, changed, [self.limit])
            except InputError as error:
                first = error.problems[0]
                raise InputError(first.message, path, source=source) from None

    def why_none(self, result: BatchResult, row: int) -> str:
        """Return why a row has no hold time."""
        problem = result.problem_of(row)
        if problem is not None:
            return str(problem)
        if result.outcome[row] == Outcome.NOT_REACHED:
            return f"the limit is not reached within the {self.horizon / 86400.0:g} days followed"
        return "the computation gave up on this design; please report the case"
