"""Where a command writes: checked before the work is done, not after."""

from pathlib import Path

from geometries.errors import InputError, InputProblem


def check_files(plot: Path | None, *others: Path | None) -> None:
    """Refuse files that can't be written before the work is done, not after."""
    if plot is not None:
        from thermal_model.report.plots import check_format

        check_format(plot)
    for path in filter(None, (plot, *others)):
        if path.is_dir():
            raise InputError(InputProblem("is a folder; give a file in it", source=str(path)))
        if not path.absolute().parent.is_dir():
            message = f"there is no folder {path.absolute().parent}; make it first"
            raise InputError(InputProblem(message, source=str(path)))
