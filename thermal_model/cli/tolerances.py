"""What --tolerance says: a spread in production, held to what the number may be."""

from functools import partial

from geometries.errors import InputError, at_once, refuse_repeated
from thermal_model.cli.settings import assignment
from thermal_model.study.question import Question
from thermal_model.study.ranges import number_field
from thermal_model.study.tolerance import ProductionSpread, read_spread


def read_tolerances(texts: tuple[str, ...], question: Question) -> list[ProductionSpread]:
    """Return the spread that each --tolerance says; a number has one."""
    spreads = at_once(*(partial(_read, text, question) for text in texts))
    refuse_repeated([spread.field.path for spread in spreads], "has two spreads; give one", "--tolerance")
    return spreads


def _read(text: str, question: Question) -> ProductionSpread:
    """Return the spread that PATH=SPREAD of --tolerance says.

    Raises
    ------
    InputError
        If it is no spread of a number of the design or scenario, or three of it reach what can't be.
    """
    path, value = assignment(text, "--tolerance", "body.neck.mouth_diameter='0.3 mm'")
    spread = read_spread(number_field(path, question.container, question.scenario, "--tolerance"), value, "--tolerance")
    middle, reach = float(spread.field.value or 0.0), 3.0 * spread.deviation
    # Rounded: 20 C less 60 K is -40 C, which is allowed, not what a last bit makes of it.
    ends = [float(f"{end:.6g}") for end in (middle - reach, middle + reach)]
    try:
        question.check_values(path, ends, "--tolerance")
    except InputError as error:
        message = f"three spreads reach too far: {error.problems[0].message}"
        raise InputError(message, path, value, "--tolerance") from None
    return spread
