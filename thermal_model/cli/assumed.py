"""Which inputs were not given, so that a usual value was taken."""

from thermal_model.scenario import Scenario


def assumed_inputs(scenario: Scenario, *, has_limit: bool = True) -> frozenset[str]:
    """Return the names of inputs that a user would give and did not.

    Parameters
    ----------
    scenario : Scenario
        As read, with what was set in it.
    has_limit : bool
        Whether a limit temperature was given, or is not asked for.
    """
    assumed = {"fill", "start", "room", "contents"} - scenario.model_fields_set
    if scenario.room_profile is not None:
        assumed -= {"room"}
    return frozenset(assumed | (set() if has_limit else {"until"}))
