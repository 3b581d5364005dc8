"""A run that is about to begin, checked before it is written: a row that can't be read would stop the whole bench."""

from collections.abc import Mapping

from geometries.errors import InputError, InputProblem, nearest_hint, refuse
from geometries.overrides import with_overrides
from geometries.validation import validated
from thermal_model.bench.read.bench_file import BenchFile
from thermal_model.prediction import check_fill
from thermal_model.scenario import Scenario

_FIELDS = {"contents": "contents", "fill": "fill", "ice": "ice", "poured at": "start", "room": "room"}


def check_new_run(bench: BenchFile, cells: Mapping[str, str]) -> None:
    """Refuse a run that the bench's files could not hold.

    Parameters
    ----------
    bench : BenchFile
    cells : mapping of str to str
        By name of column, quantities with their unit.

    Raises
    ------
    InputError
        By column.
    """
    problems = []
    for column, allowed in (("container", bench.containers), ("probe", bench.probes)):
        text = cells.get(column, "")
        if text not in allowed and (text or column == "container" or len(allowed) > 1):
            hint = nearest_hint(text, allowed)
            problems.append(InputProblem(f"{hint}take one of {', '.join(allowed)}", column, text))
    refuse(problems)
    fields = {field: cells[column] for column, field in _FIELDS.items() if cells.get(column)}
    try:
        scenario = with_overrides(validated(Scenario, fields, ""), bench.scenario, "scenario")
        check_fill(bench.containers[cells["container"]], scenario)
    except InputError as error:
        names = {field: column for column, field in _FIELDS.items()}
        raise InputError(
            InputProblem(p.message, names.get(p.field, p.field), p.value) for p in error.problems
        ) from None
