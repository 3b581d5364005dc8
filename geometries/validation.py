"""From a document to a record: what pydantic finds wrong, told as one line for each problem."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from geometries.errors import CONTROL, InputError, InputProblem, nearest_hint
from geometries.quantities import FROM_DOCUMENT

Record = TypeVar("Record", bound=BaseModel)
Location = tuple[int | str, ...]


def validated(model: type[Record], document: Mapping[str, Any], source: str = "", *, needs_unit: bool = True) -> Record:
    """Return a document as a record.

    Parameters
    ----------
    model : type
        A pydantic model.
    document : mapping
        As read from TOML or JSON.
    source : str
        File or option the document came from, for the messages.
    needs_unit : bool
        Refuse plain numbers where a quantity has a unit, as a file should have them; else they are in SI units.

    Raises
    ------
    InputError
        Naming every problem found, each with its path inside the document.
    """
    controls = list(_with_control(document, "", source))
    if controls:
        raise InputError(controls)
    try:
        return model.model_validate(document, context=FROM_DOCUMENT if needs_unit else None)
    except ValidationError as error:
        details = error.errors(include_url=False)
        raise InputError(_problems(model, details, source)) from None


def _with_control(value: Any, path: str, source: str) -> Iterator[InputProblem]:
    """Yield a problem for each text, written with escapes, that holds a control character."""
    if isinstance(value, str) and CONTROL.search(value):
        yield InputProblem("has a control character; take it out", path, value, source)
    elif isinstance(value, Mapping):
        for key, entry in value.items():
            yield from _with_control(str(key), path, source)
            yield from _with_control(entry, f"{path}.{key}".lstrip("."), source)
    elif isinstance(value, list | tuple):
        for place, entry in enumerate(value):
            yield from _with_control(entry, f"{path}.{place}".lstrip("."), source)


def _problems(model: type[BaseModel], details: list[ErrorDetails], source: str) -> list[InputProblem]:
    return [
        problem
        for detail in details
        if not _follows_from_another(detail, details)
        for problem in _from_detail(model, detail, source)
    ]


def _follows_from_another(detail: ErrorDetails, details: list[ErrorDetails]) -> bool:
    """Return whether a list is called too short only because its items were refused."""
    place = detail["loc"]
    return detail["type"] == "too_short" and any(
        len(other["loc"]) > len(place) and other["loc"][: len(place)] == place for other in details
    )


def _from_detail(model: type[BaseModel], detail: ErrorDetails, source: str) -> list[InputProblem]:
    parents, path = _resolve(model, detail["loc"])
    cause = detail.get("ctx", {}).get("error")
    if isinstance(cause, InputError):
        return [
            InputProblem(p.message, ".".join(part for part in (path, p.field) if part), p.value, p.source or source)
            for p in cause.problems
        ]
    if isinstance(cause, ValueError):
        return [InputProblem(str(cause), path, source=source)]
    return [_from_pydantic(parents, path, detail, source)]


def _from_pydantic(parents: list[type[BaseModel]], path: str, detail: ErrorDetails, source: str) -> InputProblem:
    kind, context = detail["type"], detail.get("ctx", {})
    name = path.rpartition(".")[2]
    if kind == "extra_forbidden":
        allowed = [field for parent in parents for field in parent.model_fields]
        message = f"unknown key; {nearest_hint(name, allowed)}allowed: {', '.join(dict.fromkeys(allowed))}"
        return InputProblem(message, path, source=source)
    if kind == "missing":
        return InputProblem("is missing; add it", path, source=source)
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        tags = context.get("expected_tags") or "'solid', 'pocket'"
        given = context.get("tag")
        hint = nearest_hint(given, tags.replace("'", "").split(", ")) if given else ""
        return InputProblem(f"{hint}must be one of {tags}", f"{path}.kind", given, source)
    if kind == "literal_error":
        allowed = str(context["expected"]).replace("'", "").replace(" or ", ", ").split(", ")
        message = f"{nearest_hint(detail['input'], allowed)}allowed: {', '.join(allowed)}"
        return InputProblem(message, path, detail["input"], source)
    return InputProblem(_PLAIN.get(kind, detail["msg"]).format(**context), path, detail["input"], source)


_PLAIN = {
    "model_type": "must be a table of fields",
    "model_attributes_type": "must be a table of fields",
    "string_type": "must be text in quotes",
    "tuple_type": "must be a list",
    "enum": "must be {expected}",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "bool_type": "must be true or false",
    "bool_parsing": "must be true or false",
    "too_short": "needs at least {min_length} entry",
    "greater_than_equal": "must be at least {ge}",
    "less_than_equal": "must be at most {le}",
    "string_too_long": "must have at most {max_length} characters",
    "string_pattern_mismatch": "must be lower case letters, digits and underscores, starting with a letter",
}


def _resolve(model: type[BaseModel], location: Location) -> tuple[list[type[BaseModel]], str]:
    """Return the models that may hold the last key of a location, and its path without the tags of unions."""
    candidates, parents, path = [model], [model], []
    for i, key in enumerate(location):
        tagged = [m for m in candidates if len(candidates) > 1 and key in _tags(m)]
        if tagged:
            candidates = tagged
            continue
        path.append(str(key))
        if isinstance(key, str) and i > 0 and _is_table(parents, location[i - 1]):
            continue
        if isinstance(key, str):
            parents = candidates
            is_last = i == len(location) - 1
            candidates = candidates if is_last else _models_under(candidates, key)
    return parents, ".".join(path)


def _tags(model: type[BaseModel]) -> tuple[Any, ...]:
    field = model.model_fields.get("kind")
    return get_args(field.annotation) if field is not None else ()


def _is_table(parents: Iterable[type[BaseModel]], key: int | str) -> bool:
    """Return whether a field is a table by names that are the user's."""
    fields = (m.model_fields[key] for m in parents if isinstance(key, str) and key in m.model_fields)
    return any(get_origin(field.annotation) is dict for field in fields)


def _models_under(candidates: Iterable[type[BaseModel]], key: str) -> list[type[BaseModel]]:
    annotations = [m.model_fields[key].annotation for m in candidates if key in m.model_fields]
    return [model for annotation in annotations for model in _models_in(annotation)]


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in get_args(annotation) for model in _models_in(part)]
