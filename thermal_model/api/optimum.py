"""The best design of a space, or the front of several wishes."""

from collections.abc import Callable, Mapping, Sequence

from geometries.errors import at_once
from thermal_model import prediction
from thermal_model.api.inputs import Conditions, Design, Quantity, container_of, limit_of, scenario_of
from thermal_model.study.axes import read_axes
from thermal_model.study.expression import read_expression
from thermal_model.study.measures import HOLD, Measure, cost_measure, read_constraint, read_measure
from thermal_model.study.optimum.designs import DesignSpace
from thermal_model.study.optimum.optimise import BestDesigns
from thermal_model.study.optimum.optimise import optimise as best_designs
from thermal_model.study.optimum.pieces import Pieces
from thermal_model.study.question import Question
from thermal_model.study.ranges import number_field
from thermal_model.study.tolerance import read_spread


def optimise(
    design: Design,
    scenario: Conditions = None,
    *,
    until: Quantity,
    vary: Mapping[str, str | Sequence[object]],
    best: Sequence[str] = (HOLD,),
    at_most: Mapping[str, str] | None = None,
    at_least: Mapping[str, str] | None = None,
    cost: str | None = None,
    share: float | None = None,
    tolerances: Mapping[str, str] | None = None,
    pieces: int = 64,
    tries: int = 400,
    count: int = 12,
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
) -> BestDesigns:
    """Find the best design under constraints, or those that no other beats in several wishes.

    Parameters
    ----------
    design, scenario, progress
        As `predict`.
    until : str, float or pint quantity
        Limit temperature; a number in kelvin.
    vary : mapping of str to str or sequence
        Path to a range without steps, "35..60 mm", or to choices, as `sweep` takes them.
    best : sequence of str
        Wishes: "hold", "mass", "height", "diameter", "capacity", "mouth", "cost", or a path, of which less is better.
    at_most, at_least : mapping of str to str, optional
        Bounds on the same, {"mass": "400 g"}.
    cost : str, optional
        Arithmetic on masses, counts and sizes, "14*wall_kg + 0.6*seals".
    share : float, optional
        A hold time then counts as what this share of the pieces holds, which differ in `tolerances`, or where there
        are none in what is not known of the design.
    tolerances : mapping of str to str, optional
        Path to the standard deviation of production, {"body.neck.mouth_diameter": "0.3 mm"}.
    pieces : int
        That each design is made into, where share or tolerances are given.
    tries : int
        Designs tried over all of the ranges for each wish; refinement comes on top.
    count : int
        Designs of a front, about.
    seed : int

    Returns
    -------
    BestDesigns
        Its `designs`, the best of the first wish first; `container(number)` gives one of them, `values(number)` what it
        is worth in SI units.

    Raises
    ------
    InputError
        As `predict`; also if constraints contradict each other, or no design reaches the limit.

    Examples
    --------
    >>> mouths = {"body.neck.mouth_diameter": "35..60 mm"}
    >>> scenario = {"fill": "500 mL"}
    >>> found = optimise("slim_neck_double_seal", scenario, until="60 C", vary=mouths, best=["mass"], tries=10)
    >>> round(1e3 * float(found.container().body.neck.mouth_diameter), 3)
    35.0
    """
    container, conditions, limit = container_of(design), scenario_of(scenario), limit_of(until)
    prediction.check_run(container, conditions, [limit])
    axes = read_axes([*vary.items()], container, conditions, "vary")
    own: dict[str, Measure] = {} if cost is None else {"cost": cost_measure(read_expression(cost, "cost"))}
    objectives = at_once(*(lambda name=name: read_measure(name, container, conditions, "best", own) for name in best))
    bounds = [(True, "at_most", *pair) for pair in (at_most or {}).items()]
    bounds += [(False, "at_least", *pair) for pair in (at_least or {}).items()]
    constraints = [read_constraint(n, text, up, container, conditions, source, own) for up, source, n, text in bounds]
    spreads = tuple(
        read_spread(number_field(path, container, conditions, "tolerances"), text, "tolerances")
        for path, text in (tolerances or {}).items()
    )
    has_pieces = share is not None or bool(spreads)
    unsure, share = tuple(path for path, _ in container.unsure), 0.95 if share is None else share
    made = Pieces(pieces, share, spreads, not spreads, seed, unsure=unsure) if has_pieces else Pieces()
    space = DesignSpace(
        (Question(container, conditions, limit),), (HOLD,), tuple(axes), tuple(objectives), tuple(constraints), made
    )
    return best_designs(space, budget=tries, seed=seed, size=count, told=progress)
