"""Fields of records as entries of a JSON document."""

import json
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import pytest

from geometries.numeric import Array
from thermal_model.words.documents import entries, plain


class _Side(StrEnum):
    HOT = "hot"


@dataclass(frozen=True)
class _Record:
    time: float
    heat_capacity: float
    side: _Side
    held: Array
    is_lid_on: bool


RECORD = _Record(np.float64(90.5), np.inf, _Side.HOT, np.array([60.0, np.nan]), True)


def test_a_key_is_the_name_of_a_field_with_its_unit() -> None:
    found = entries(RECORD, "held_s", "is_lid_on", "time_s", "heat_capacity_J_per_K", "side")
    assert list(found) == ["held_s", "is_lid_on", "time_s", "heat_capacity_J_per_K", "side"]
    assert json.loads(json.dumps(found, allow_nan=False)) == {
        "held_s": [60.0, None],
        "is_lid_on": True,
        "time_s": 90.5,
        "heat_capacity_J_per_K": None,
        "side": "hot",
    }


def test_a_field_that_is_not_there_is_an_error() -> None:
    with pytest.raises(AttributeError, match="start"):
        entries(RECORD, "start_K")


def test_a_record_in_a_list_and_nothing() -> None:
    assert plain([RECORD])[0]["held"] == [60.0, None]
    assert plain(None) is None
