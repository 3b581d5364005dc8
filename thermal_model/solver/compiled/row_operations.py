"""What compiled steps do to rows of lanes: each a function of numbers, traced. The first argument takes the result."""

import numpy as np

from thermal_model.solver.compiled.vectors import law_operation, operation
from thermal_model.solver.laws import LAWS
from thermal_model.solver.network import Contents
from thermal_model.solver.rates import contents_temperature, contents_temperature_slope
from thermal_model.solver.stepping import COLDEST, UNSOUND, allowed_in_contents, allowed_in_node, allowed_in_room

BEYOND = 1e30
"""No number of a sound step is as large; what is not a number is not smaller either."""

copy_row = operation(lambda _, other: other)
add_row = operation(lambda row, other: row + other)
subtract_row = operation(lambda row, other: row - other)
multiply_row = operation(lambda row, other: row * other)
reciprocal = operation(lambda row: 1.0 / row)
quotient = operation(lambda _, above, below: above / below)
add_product = operation(lambda row, a, b: row + a * b)
subtract_product = operation(lambda row, a, b: row - a * b)
add_triple_product = operation(lambda row, a, b, c: row + a * b * c)
mark_unsound_row = operation(
    lambda row, value, error: np.where((np.abs(value) < BEYOND) & (np.abs(error) < BEYOND), row, UNSOUND)
)
mark_unsound_node = operation(
    lambda row, value, error: np.where(
        (value > COLDEST) & (np.abs(value) < BEYOND) & (np.abs(error) < BEYOND), row, UNSOUND
    )
)
contents_share = operation(lambda _, error, tolerance, more: np.abs(error) / (allowed_in_contents(tolerance) * more))
greater_share = operation(
    lambda row, error, mass, capacity, tolerance, greatest, more: np.maximum(
        row, np.abs(error) / allowed_in_node(mass, capacity, tolerance, greatest, more)
    )
)
room_share = operation(
    lambda row, error, mass, tolerance: np.maximum(row, np.abs(error) / allowed_in_room(mass, tolerance))
)

WATER = Contents(is_water=True)
water_temperature = operation(lambda _, enthalpy: contents_temperature(WATER, enthalpy))
water_slope = operation(lambda _, enthalpy, temperature: contents_temperature_slope(WATER, enthalpy, temperature))
plain_temperature = operation(
    lambda _, enthalpy, capacity: contents_temperature(Contents(is_water=False, heat_capacity=capacity), enthalpy)
)
plain_slope = operation(
    lambda _, enthalpy, temperature, capacity: contents_temperature_slope(
        Contents(is_water=False, heat_capacity=capacity), enthalpy, temperature
    )
)

LAW_OPERATIONS = tuple(law_operation(law, ["flows"]) for law in LAWS)
LAWS_WITH_SLOPES = tuple(law_operation(law, ["flows", "by_start", "by_end"]) for law in LAWS)
