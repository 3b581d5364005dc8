"""Figures of the validation notebook beside those of `published_checks`: properties, open water, standards, practice.

Each is a row of one table: what, ours, what is printed, how far apart, by what it is judged, whose it is.
`python -m tests.benchmarks.further_figures` prints it.
"""

import inspect
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pandas as pd

from geometries.constants import ZERO_CELSIUS
from tests.published import jis_s2006_cases as jis
from tests.published import open_evaporation_cases as open_water
from tests.published import test_common_practice, test_crossover, test_gum_h2
from tests.published.check import Check, read_rows
from tests.published.common_practice_cases import STATUS
from tests.published.test_ice import TABLE as ICE
from tests.published.test_moist_air import CENGEL_A15
from tests.thermal_model.properties.coolprop_comparison import COMPARISONS
from thermal_model.properties import ice, moist_air, water

Row = dict[str, Any]

ROOM_OF_CUPS = 22.0
"""Of the logged cups whose room was not told. [C]"""

WATER = {
    "rho_IAPWS95": ("density [kg/m3]", water.density, 1.0, 3e-8),
    "cp_J_kgK": ("heat capacity [J/kgK]", water.heat_capacity, 1.0, 1e-6),
    "k_W_mK": ("conductivity [W/mK]", water.conductivity, 1.0, 1e-5),
    "mu_uPa_s": ("viscosity [uPa s]", water.dynamic_viscosity, 1e6, 2e-6),
    "psat_Pa": ("saturation pressure [Pa]", water.saturation_pressure, 1.0, 2e-6),
    "hfg_kJ_kg": ("latent heat [kJ/kg]", water.latent_heat, 1e-3, 1e-6),
}
"""Columns of the table: name, ours, its unit in the table's, how far the fit itself is off. [-]"""


def figures() -> pd.DataFrame:
    """All of them as a table."""
    parts = (_water_rows, _ice_and_air_rows, _fit_rows, _method_rows, _evaporation_rows, _cup_rows, _jis_rows)
    return pd.DataFrame([row for part in (*parts, _practice_rows) for row in part()])


def check_row(check: Check) -> Row:
    """Return a comparison with a printed figure as a row."""
    difference = round(100.0 * check.relative_difference, 2) + 0.0
    return _row(
        check.name,
        f"{check.ours:.5g}",
        check.printed,
        difference,
        check.reason or "rounding",
        check.status,
        check.agrees,
    )


def _row(figure: str, ours: str, printed: str, difference: float, judged: str, source: str, agrees: bool) -> Row:
    names = ("figure", "ours", "printed", "diff [%]", "judged by", "source", "agrees")
    return dict(zip(names, (figure, ours, printed, difference, judged, source, bool(agrees)), strict=True))


def _within(name: str, ours: float, printed: float, share: float, judged: str, source: str) -> Row:
    difference = ours / printed - 1.0
    rounded = round(100.0 * difference, 2) + 0.0
    return _row(name, f"{ours:.5g}", f"{printed:.5g}", rounded, judged, source, abs(difference) <= share)


def _water_rows() -> Iterator[Row]:
    source = "IAPWS-95 and its transport formulas, computed elsewhere"
    for row in read_rows("water_properties_1atm.csv"):
        kelvin = float(row["T_C"]) + ZERO_CELSIUS
        for column, (name, ours, unit, own) in WATER.items():
            printed = row[column]
            digit = 10.0 ** -len(printed.partition(".")[2])
            allowed = 0.51 * digit / float(printed) + own
            value = float(ours(kelvin)) * unit
            what = f"water {name} at {float(row['T_C']):g} C"
            yield _within(what, value, float(printed), allowed, "rounding, and the fit's own error", source)


def _ice_and_air_rows() -> Iterator[Row]:
    for row in ICE:
        kelvin, source = row["T_C"] + ZERO_CELSIUS, "IAPWS R10-06, computed elsewhere"
        at = f"at {row['T_C']:g} C"
        yield _within(f"ice density [kg/m3] {at}", ice.density(kelvin), row["rho_kg_m3"], 1e-4, "0.01 %", source)
        capacity = ice.heat_capacity(kelvin)
        yield _within(f"ice heat capacity [J/kgK] {at}", capacity, row["cp_J_kgK"], 6e-4, "0.06 %", source)
    for celsius, density, capacity, conductivity, _, viscosity, *_ in CENGEL_A15:
        kelvin, source, at = celsius + ZERO_CELSIUS, "Cengel, table A-15 (seen)", f"at {celsius} C"
        older = "3.5 %: the book's is older than Lemmon and Jacobsen 2004"
        yield _within(f"air density [kg/m3] {at}", moist_air.density(kelvin), density, 1.5e-3, "0.15 %", source)
        ours = moist_air.heat_capacity(kelvin)
        yield _within(f"air heat capacity [J/kgK] {at}", ours, capacity, 2.5e-3, "0.25 %", source)
        ours = moist_air.conductivity(kelvin)
        yield _within(f"air conductivity [W/mK] {at}", ours, conductivity, 0.035, older, source)
        ours = moist_air.dynamic_viscosity(kelvin) * 1e5
        yield _within(f"air viscosity [1e-5 Pa s] {at}", ours, viscosity, 7e-3, "0.7 %", source)


def _fit_rows() -> Iterator[Row]:
    for fit in COMPARISONS:
        worst, at = fit.worst()
        reference = float(np.asarray(fit.reference(np.array([at])))[0])
        ours = float(np.asarray(fit.fit(np.array([at])))[0])
        name = f"{fit.name}, worst of {fit.span[0]:g} to {fit.span[1]:g} K: at {at:.1f} K"
        yield _row(
            name,
            f"{ours:.6g}",
            f"{reference:.6g}",
            round(100.0 * worst, 4),
            f"{100.0 * fit.limit:g} %",
            "CoolProp",
            worst <= fit.limit,
        )


def _method_rows() -> Iterator[Row]:
    for module in (test_gum_h2, test_crossover):
        yield from map(check_row, module._checks())


def _evaporation_rows() -> Iterator[Row]:
    for name, law in open_water.SOURCES.items():
        scatter = open_water.SCATTER[name]
        for celsius in open_water.TEMPERATURES:
            for diameter in open_water.DIAMETERS:
                yield _within(
                    f"open water, {celsius:g} C, {100 * diameter:g} cm wide [kg/m2h]",
                    open_water.our_evaporation(celsius, diameter),
                    law(celsius),
                    scatter,
                    f"its own scatter, {100 * scatter:.0f} % (Shah 2002)",
                    f"{name}, evaporation into quiet air",
                )


def _cup_rows() -> Iterator[Row]:
    logged: dict[bool, list[float]] = {True: [], False: []}
    for curve in open_water.measured_curves():
        if curve.temperature.max() >= 85.0 and curve.source != "page":
            logged["vacuum" in curve.vessel].append(curve.minutes(85.0, 60.0))
    for name, container, volume in open_water.OUR_CUPS:
        ours = float(open_water.minutes(container, volume, 85.0, 60.0, ROOM_OF_CUPS)[1])
        low, high = min(logged[False]), max(logged[name == "steel"])
        what = f"open {name} cup, {volume} mL, 85 to 60 C [min]"
        judged, source = "range of the logged cups", "logged open cups, tests/published/open_cups.csv"
        yield _row(what, f"{ours:.1f}", f"{low:.1f} to {high:.1f}", float("nan"), judged, source, low <= ours <= high)


def _jis_rows() -> Iterator[Row]:
    classes = jis.jis_classes()
    ends = jis.after_six_hours([c.middle for c in classes], "warmed")
    for row, end in zip(classes, ends.tolist(), strict=True):
        ours, least = f"{end - ZERO_CELSIUS:.1f}", f"at least {row.minimum - ZERO_CELSIUS:g}"
        what = f"good vessel of {row.name}, after 6 h from 95 C [C]"
        yield _row(what, ours, least, float("nan"), "the minimum", jis.STATUS, end >= row.minimum)


ELSEWHERE = {
    "test_cold_walls_shorten_the_hold_time_by_4_to_12_per_cent": "finite elements, independent: range of five cases",
    "test_a_preheated_vessel_ends_warmer": "EN 12546-1:2000, procedure second-hand",
}
"""Statements that are not common practice."""


def _practice_rows() -> Iterator[Row]:
    """One row a statement: the test that judges it is run on all its cases."""
    for name, statement in inspect.getmembers(test_common_practice, inspect.isfunction):
        if name.startswith("test_"):
            words = name.removeprefix("test_").replace("_", " ")
            is_so = _holds(statement)
            ours = "so in every case" if is_so else "not so in some"
            source = ELSEWHERE.get(name, STATUS)
            yield _row(words, ours, "said", float("nan"), "every case of the catalogue", source, is_so)


def _holds(statement: Callable[[], None]) -> bool:
    try:
        statement()
    except AssertionError:
        return False
    return True


def main() -> None:
    table = figures()
    print(table.drop(columns="source").to_string(index=False))
    print(f"{len(table)} figures and statements, {(~table['agrees']).sum()} astray")


if __name__ == "__main__":
    main()
