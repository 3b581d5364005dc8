"""Records as JSON text that reads back as the same records, to the last bit."""

import json
from functools import lru_cache
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from geometries.container import Container
from geometries.errors import InputError
from thermal_model.bench.records import Bench
from thermal_model.judge.compare import Ranking
from thermal_model.prediction import Prediction
from thermal_model.reasons.pair import PairExplanation
from thermal_model.scenario import Scenario
from thermal_model.study.sensitivity import GlobalSensitivity, LocalSensitivity
from thermal_model.version import version

Record = TypeVar(
    "Record", Container, Scenario, Prediction, LocalSensitivity, GlobalSensitivity, Bench, Ranking, PairExplanation
)

_RECORDS: dict[str, type[Any]] = {record.__name__: record for record in Record.__constraints__}


@lru_cache(maxsize=len(_RECORDS))
def _adapter(name: str) -> TypeAdapter[Any]:
    return TypeAdapter(_RECORDS[name])


def to_json(record: Record) -> str:
    """Return a record as JSON text.

    Parameters
    ----------
    record : Container, Scenario, Prediction, LocalSensitivity, GlobalSensitivity, Bench, Ranking or PairExplanation
        A calibration has its own file, see `save_calibration`; a sweep is an xarray.Dataset, which has `to_netcdf`.

    Returns
    -------
    str
        An object with the keys `record`, `version` and `data`. Quantities of a design and of a scenario are text with
        units, all other numbers are in SI units; those that are not finite are written as text.

    Raises
    ------
    TypeError
        If it is none of these records.
    """
    name = type(record).__name__
    if _RECORDS.get(name) is not type(record):
        raise TypeError(f"{name} has no JSON form; these have: {', '.join(_RECORDS)}")
    data = _adapter(name).dump_python(record, mode="json", exclude_unset=True)
    return (
        json.dumps({"record": name, "version": version(), "data": _finite(data)}, ensure_ascii=False, indent=1) + "\n"
    )


def _finite(data: Any) -> Any:
    if isinstance(data, dict):
        return {key: _finite(value) for key, value in data.items()}
    if isinstance(data, list):
        return [_finite(value) for value in data]
    return str(data) if isinstance(data, float) and data - data != 0.0 else data


def from_json(text: str) -> Any:
    """Return the record that `to_json` wrote.

    Raises
    ------
    InputError
        If the text is not JSON, or not of a record that this version knows.
    """
    try:
        document = json.loads(text)
        name, data = document["record"], document["data"]
        return _adapter(name).validate_python(data, strict=False)
    except (KeyError, TypeError):
        raise InputError(f"is no record; to_json writes one, of {', '.join(_RECORDS)}") from None
    except json.JSONDecodeError as error:
        raise InputError(f"is not JSON: {error}") from None
    except RecursionError:
        raise InputError("is no record; its brackets are nested too deeply") from None
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(map(str, first["loc"]))
        raise InputError(f"{name} of version {document.get('version')}: {place}: {first['msg']}") from None
    except ValueError:  # more digits than Python reads
        raise InputError("is no record; a whole number has too many digits") from None
