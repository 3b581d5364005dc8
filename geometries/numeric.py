"""The one numeric type of the house: a float, or an array whose last axis is a batch of designs."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from pydantic_core import CoreSchema


@dataclass(frozen=True)
class JsonForm:
    """How a type that pydantic does not know is written to JSON and read back.

    Attributes
    ----------
    write, read : callable
        To what JSON can hold, and back.
    """

    write: Callable[[Any], Any]
    read: Callable[[Any], Any]

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> "CoreSchema":
        """Use the two in place of anything that pydantic would find out about the type."""
        from pydantic_core import core_schema

        writer = core_schema.plain_serializer_function_ser_schema(self.write, when_used="json")
        return core_schema.no_info_plain_validator_function(self.read, serialization=writer)


def _nested(array: Any) -> Any:
    """Return an array as nested lists; what is not finite, and so no number of JSON, as text."""
    if np.ndim(array):
        return [_nested(part) for part in array]
    return float(array) if np.isfinite(array) else str(float(array))


def _array(nested: Any) -> NDArray[np.float64]:
    if not isinstance(nested, list | np.ndarray):
        raise ValueError("must be a list of numbers")
    return np.array(nested, dtype=np.float64)


Array: TypeAlias = Annotated[NDArray[np.float64], JsonForm(_nested, _array)]
Numeric: TypeAlias = float | Array
