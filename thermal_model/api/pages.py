"""One page of a bench that a reader can explore."""

from collections.abc import Callable
from pathlib import Path

from thermal_model.api.benches import read_bench
from thermal_model.api.inputs import Conditions, Known, Quantity, limit_of, scenario_of
from thermal_model.bench.calibration.calibration import Calibration
from thermal_model.bench.calibration.calibration_file import read_calibration
from thermal_model.bench.records import Bench
from thermal_model.report.page import knowledge
from thermal_model.report.page.contents import Asked, gather
from thermal_model.report.page.html import page_html


def report_page(
    bench: Bench | str | Path,
    scenario: Conditions = None,
    *,
    until: Quantity,
    cold_start: Quantity = "4 C",
    cold_until: Quantity = "10 C",
    calibration: Known = None,
    draws: int = 100,
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
) -> str:
    """Make one page of a bench: ranking, readings, why, and what if; it works offline.

    Parameters
    ----------
    bench : Bench, str or Path
        A bench, or its folder.
    scenario : Scenario or mapping, optional
        Common conditions; without a fill each container is filled to its own lid.
    until : str, float or pint quantity
        Limit temperature; a number in kelvin.
    cold_start, cold_until : str, float or pint quantity
        Start and limit of the cold list.
    calibration : Calibration, CalibrationFile or path, optional
        What the bench says of the unknowns; left out: it is fitted now.
    draws : int
        Of the unknowns, for intervals and tiers.
    seed : int
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    str
        HTML, to be written to a file as UTF-8.

    Raises
    ------
    InputError
        If an input can't be, or no container takes part; every problem is named.
    """
    found = bench if isinstance(bench, Bench) else read_bench(bench)
    known = read_calibration(Path(calibration)) if isinstance(calibration, str | Path) else calibration
    known_of_bench = knowledge.known_of(found, known.fit if isinstance(known, Calibration) else known)
    ends = limit_of(cold_start), limit_of(cold_until)
    asked = Asked(scenario_of(scenario), limit_of(until), *ends, draws=draws, seed=seed)
    return page_html(gather(known_of_bench, asked, progress=progress))
