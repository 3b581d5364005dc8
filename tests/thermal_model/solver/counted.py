"""A stepper that counts, so that a test sees when steps stay short, and a benchmark what they cost."""

from geometries.numeric import Array
from thermal_model.solver.engine import MakeStepper
from thermal_model.solver.network import LinkTable, Network
from thermal_model.solver.scatter import Indices
from thermal_model.solver.stepping import PlainStepper, Stepper, Tolerance


class Counted:
    """Counts over all phases of an integration.

    Attributes
    ----------
    steps : int
        That all lanes of a batch take together.
    most_steps : int
        In one phase.
    lanes_stepped, lanes_evaluated : int
        Steps and evaluations, each lane by itself.
    """

    def __init__(self, kind: MakeStepper = PlainStepper) -> None:
        self.kind = kind
        self.steps = self.most_steps = self.lanes_stepped = self.lanes_evaluated = 0
        self._before_phase = 0

    def make(self, network: Network, links: LinkTable, tolerance: Tolerance) -> Stepper:
        """Return a stepper of a phase, which counts."""
        self._before_phase = self.steps
        return _Counting(self, self.kind(network, links, tolerance))

    def note_step(self, lanes: int) -> None:
        """Count a step."""
        self.steps += 1
        self.lanes_stepped += lanes
        self.most_steps = max(self.most_steps, self.steps - self._before_phase)


class _Counting:
    """Passes everything on."""

    def __init__(self, counted: Counted, stepper: Stepper) -> None:
        self._counted, self._stepper = counted, stepper

    def evaluate(self, state: Array, room: Array) -> tuple[Array, Array]:
        self._counted.lanes_evaluated += state.shape[1]
        return self._stepper.evaluate(state, room)

    def step(self, state: Array, time: Array, step: Array, mass: Array) -> tuple[Array, Array]:
        self._counted.note_step(state.shape[1])
        return self._stepper.step(state, time, step, mass)

    def take_lanes(self, lanes: Indices) -> Stepper:
        return _Counting(self._counted, self._stepper.take_lanes(lanes))
