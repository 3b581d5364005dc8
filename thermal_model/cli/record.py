"""A command's options as the annotated fields of one record: read once, and shown on its help page in their order."""

import inspect
from collections.abc import Callable, Iterator
from dataclasses import MISSING, Field, fields, is_dataclass
from typing import Annotated, Any, TypeVar, get_args, get_origin, get_type_hints

Record = TypeVar("Record")
TEXTS = tuple[str, ...]
"""Of an option that may be repeated."""


def command(
    record: type[Record], example: str, *, after_start: str = ""
) -> Callable[[Callable[[Record], None]], Callable[..., None]]:
    """Make a command of a function that takes one record.

    Parameters
    ----------
    record : type
        A frozen dataclass, each field `Annotated` with its typer option; a field that is a record itself brings its
        own fields. A field of type `tuple[str, ...]` is an option that may be repeated.
    example : str
        For the help page.
    after_start : str
        A field that the help page shows among the scenario's, after the start temperature.

    Returns
    -------
    callable
        A decorator; typer sees the fields as parameters of what it returns.
    """

    def attach(run: Callable[[Record], None]) -> Callable[..., None]:
        def entered(**typed: Any) -> None:
            run(filled(record, typed))

        shown = {parameter.name: parameter for parameter in parameters(record)}
        names = [name for name in shown if name != after_start]
        if after_start:
            names.insert(names.index("start") + 1, after_start)
        ordered = [shown[name] for name in names]
        entered.__doc__ = f"{run.__doc__}\n\nExample: {example}"
        entered.__signature__ = inspect.Signature(ordered)  # type: ignore[attr-defined]
        entered.__annotations__ = {parameter.name: parameter.annotation for parameter in ordered}
        return entered

    return attach


def _typed_fields(record: Any) -> Iterator[tuple[Field[Any], Any]]:
    hints = get_type_hints(record, include_extras=True)
    for field in fields(record):
        yield field, hints[field.name]


def parameters(record: Any) -> Iterator[inspect.Parameter]:
    """Yield what typer is to see of a record."""
    for field, hint in _typed_fields(record):
        if is_dataclass(hint):
            yield from parameters(hint)
            continue
        default = inspect.Parameter.empty if field.default is MISSING else field.default
        if _may_be_repeated(hint):
            # Typer knows lists only, and tells by None that nothing was given.
            default = default or None
            hint = Annotated[list[str] if default is inspect.Parameter.empty else list[str] | None, *get_args(hint)[1:]]
        yield inspect.Parameter(field.name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=hint)


def filled(record: Any, typed: dict[str, Any]) -> Any:
    """Return a record with what was typed, in all its parts."""
    values = {}
    for field, hint in _typed_fields(record):
        if is_dataclass(hint):
            values[field.name] = filled(hint, typed)
        else:
            value = typed[field.name]
            values[field.name] = tuple(value or ()) if _may_be_repeated(hint) else value
    return record(**values)


def _may_be_repeated(hint: Any) -> bool:
    return get_origin(hint) is Annotated and get_args(hint)[0] == TEXTS
