"""The fits against CoolProp, and the file of coefficients against its generator."""

import ast
import subprocess
import sys

import numpy as np
import pytest

from tests.benchmarks import property_accuracy
from tests.thermal_model.properties.coolprop_comparison import COMPARISONS, Comparison
from thermal_model.properties import fit, moist_air, water
from thermal_model.properties.polynomial import horner


@pytest.mark.parametrize("comparison", COMPARISONS, ids=lambda comparison: comparison.name)
def test_fit_stays_within_its_limit(comparison: Comparison) -> None:
    deviation, at = comparison.worst()
    assert deviation <= comparison.limit, f"{comparison.name}: {deviation:.1e} at {at:.2f} K"


def test_benchmark_prints_every_fit(capsys: pytest.CaptureFixture[str]) -> None:
    assert property_accuracy.main() == 0
    printed = capsys.readouterr().out
    assert all(comparison.name in printed for comparison in COMPARISONS)


def constants(source: str) -> dict[str, np.ndarray]:
    assignments = [node for node in ast.parse(source).body if isinstance(node, ast.Assign)]
    return {ast.unparse(node.targets[0]): np.array(ast.literal_eval(node.value)) for node in assignments}


def test_coefficients_are_what_the_generator_writes() -> None:
    # Rounding differs between machines; the leading coefficients are the least certain.
    generated, stored = constants(fit.render()), constants(fit.TARGET.read_text(encoding="utf-8"))
    assert generated.keys() == stored.keys()
    for name, coefficients in stored.items():
        scale = np.max(np.abs(coefficients))
        assert generated[name] == pytest.approx(coefficients, abs=1e-9 * scale), name


def test_generator_and_module_share_their_fixed_points() -> None:
    # Twice in the code, because the generator must run before the module can be imported.
    assert (fit.FREEZING_POINT, fit.BOILING_POINT) == (water.FREEZING_POINT, water.BOILING_POINT)


def test_horner_and_slope() -> None:
    polynomial = np.polynomial.Polynomial([0.3, -1.2, 0.7, 2.5])
    x = np.linspace(-1.0, 1.0, 7)
    coefficients = tuple(float(c) for c in polynomial.coef[::-1])
    assert horner(coefficients, x) == pytest.approx(polynomial(x), rel=1e-14)


def test_properties_need_numpy_only() -> None:
    code = (
        "import sys; from thermal_model.properties import ice, moist_air, water; "
        "print([m for m in ('CoolProp', 'scipy', 'pint', 'pydantic') if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


PROPERTIES = [
    function
    for module in (water, moist_air)
    for name, function in vars(module).items()
    if "temperature" in getattr(function, "validity", {}) and function.__module__ == module.__name__
]


def test_every_property_is_listed() -> None:
    assert len(PROPERTIES) >= 23


@pytest.mark.parametrize("function", PROPERTIES, ids=lambda function: f"{function.__module__}.{function.__name__}")
def test_arrays_are_evaluated_elementwise(function) -> None:
    low, high = function.validity["temperature"]
    temperature = np.linspace(low, high, 12).reshape(3, 4)
    values = function(temperature)
    assert values.shape == temperature.shape
    assert np.all(np.isfinite(values))
    singles = [function(float(t)) for t in temperature.ravel()]
    assert all(np.ndim(single) == 0 for single in singles)
    assert values.ravel() == pytest.approx(singles, rel=1e-14)


@pytest.mark.parametrize("function", PROPERTIES, ids=lambda function: f"{function.__module__}.{function.__name__}")
def test_no_step_at_fine_spacing(function) -> None:
    # Integrators meet every property as a smooth function, five kelvin beyond its range too (kinks, not
    # steps, are allowed where saturated air turns to steam).
    low, high = function.validity["temperature"]
    values = function(np.linspace(low - 5.0, high + 5.0, 20001))
    span = np.max(values) - np.min(values)
    assert np.max(np.abs(np.diff(values))) < 1e-2 * span
