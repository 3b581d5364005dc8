"""What all parts of a container have in common as records."""

from pydantic import BaseModel, ConfigDict


class Part(BaseModel):
    """A frozen record; keys it does not know are refused.

    Fields hold SI numbers once validated. `model_copy(update=...)` does not validate, and so may put an (n,)
    array, a batch of designs, in the place of any number.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
