"""What all parts of a container have in common as records."""

from typing import Any, Self

from pydantic import BaseModel, ConfigDict, model_validator

from geometries.errors import InputProblem, refuse


class Part(BaseModel):
    """A frozen record; keys it does not know are refused, and so are those that its kind leaves without effect.

    Fields hold SI numbers once validated. `model_copy(update=...)` does not validate, and so may put an (n,)
    array, a batch of designs, in the place of any number.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    def idle_fields(self) -> dict[str, str]:
        """Return the fields that have no effect in a part of this kind, each with the reason."""
        return {}

    @model_validator(mode="after")
    def _gives_no_idle_field(self) -> Self:
        given = self.model_fields_set
        problems = [InputProblem(reason, name) for name, reason in sorted(self.idle_fields().items()) if name in given]
        refuse(problems)
        return self


def more_holds(way: str) -> dict[str, Any]:
    """Return what a field's schema says of the hold time as the field grows, where physics leaves no doubt.

    Parameters
    ----------
    way : str
        "longer" or "shorter", hot and cold; or "warmer": longer hot, shorter cold.
    """
    return {"more": way}
