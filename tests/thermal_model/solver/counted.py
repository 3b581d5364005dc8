"""A stepper that counts the steps of a whole batch, so that a test sees when they stay short."""

from geometries.numeric import Array
from thermal_model.solver.engine import MakeStepper
from thermal_model.solver.network import LinkTable, Network
from thermal_model.solver.stepping import PlainStepper, Stepper, Tolerance


class Counted:
    """Counts the steps that all lanes of a batch take together."""

    def __init__(self, kind: MakeStepper = PlainStepper) -> None:
        self.kind, self.steps = kind, 0

    def make(self, network: Network, links: LinkTable, tolerance: Tolerance) -> Stepper:
        """Return a stepper whose steps count."""
        stepper = self.kind(network, links, tolerance)
        whole = stepper.step

        def step(state: Array, time: Array, length: Array, mass: Array) -> tuple[Array, Array]:
            self.steps += 1
            return whole(state, time, length, mass)

        stepper.step = step  # type: ignore[assignment, method-assign]
        return stepper
