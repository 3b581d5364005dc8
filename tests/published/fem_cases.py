"""The five finite-element cases of fem_cases.csv as containers and scenarios with pinned coefficients.

Source: independent axisymmetric finite-element solutions, discretisation error below 0.05 %; all inputs and results
stand in the file. Inside films refer to the temperature of the liquid.
"""

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from geometries.container import Container
from thermal_model.assemble.build import assemble
from thermal_model.follow import limit_enthalpies
from thermal_model.prediction import heat_paths
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import integrate

FILE = Path(__file__).with_name("fem_cases.csv")


@dataclass(frozen=True)
class FemCase:
    """One column of the file: inputs and results, SI."""

    name: str
    inputs: dict[str, Any]
    results: dict[str, float]

    @property
    def container(self) -> Container:
        """The container with its dimensions."""
        i = self.inputs
        has_pocket, has_plug = i["lid_t_pocket"] > 0, i["plug_depth"] > 0
        layers = [{"kind": "solid", "thickness": _m(i["lid_t_bottom"])}]
        if has_pocket:
            layers += [
                {"kind": "pocket", "depth": _m(i["lid_t_pocket"])},
                {"kind": "solid", "thickness": _m(i["lid_t_top"])},
            ]
        lid: dict[str, Any] = {"layers": layers, "side_thickness": _m(i["lid_t_side"]), "seals": [{"depth": "0 mm"}]}
        if has_plug:
            lid["plug"] = {
                "kind": "foam",
                "depth": _m(i["plug_depth"]),
                "clearance": _m(i["ann_gap"]),
                "wall_thickness": _m(i["plug_wall"]),
            }
            half = 0.5 * i["t_seal"]
            lid["seals"] = [{"depth": _m(depth), "height": _m(i["t_seal"])} for depth in (half, i["plug_depth"] - half)]
        body: dict[str, Any] = {
            "inside_diameter": _m(2 * i["Ri"]),
            "inside_depth": _m(i["Hb"] + i["Ln"]),
            "wall": {"kind": "double", "inner_thickness": _m(i["t_in"]), "outer_thickness": _m(i["t_out"])},
            "gap": {"kind": "vacuum", "width": _m(i["g"]), "base_width": _m(i["g_base"])},
            "lip": {"thickness": _m(i["t_lip"])},
        }
        if i["Rm"] < i["Ri"]:
            body["neck"] = {
                "mouth_diameter": _m(2 * i["Rm"]),
                "length": _m(i["Ln"]),
                "shoulder_height": "0 mm",
            }
        return Container.model_validate({"name": "finite_element_case", "summary": self.name, "body": body, "lid": lid})

    def scenario(self, walls: str = "room") -> Scenario:
        """The scenario with every coefficient pinned."""
        i = self.inputs
        film = "{} W/m2K".format
        pins = {
            "exterior_film": film(i["h_ext"]),
            "base_film": film(i["h_base"]),
            "headspace_film": film(i["h_head"]),
            "wetted_film": film(i["h_liq"]),
            "annulus_film": film(i["h_ann"]),
            "gap_conductance": film(i["h_gap"]),
            "lid_contact": film(1e5),
            "pocket_conductivity": f"{i['k_pocket']} W/mK",
            "layer_conductivity": f"{i['k_pp']} W/mK",
            "plug_core_conductivity": f"{i['k_core']} W/mK",
            "annulus_conductivity": f"{i['k_ann']} W/mK",
            "seal_conductivity": f"{i['k_seal']} W/mK",
            "wall_conductivity": f"{i['k_steel']} W/mK",
            "wall_density": f"{i['rho_steel']} kg/m3",
            "wall_heat_capacity": f"{i['c_steel']} J/kgK",
            "layer_density": f"{i['rho_pp']} kg/m3",
            "layer_heat_capacity": f"{i['c_pp']} J/kgK",
            "contents_density": f"{i['rho_liq']} kg/m3",
            "contents_heat_capacity": f"{i['cp_liq']} J/kgK",
        }
        return Scenario.model_validate(
            {
                "fill": f"{i['fill_mL']} mL",
                "start": f"{i['T0']} C",
                "room": f"{i['T_amb']} C",
                "walls": walls,
                "pins": pins,
            }
        )

    def heat_paths(self, refinement: int = 1) -> dict[str, float]:
        """Our UA and its split, by the names of the file. [W K-1]"""
        scenario = self.scenario()
        network = assemble(self.container, scenario, refinement=refinement)
        _, total, paths = heat_paths(network, scenario, [self.inputs["T1"] + 273.15])
        return {
            "UA": total,
            "UA_lid": paths["lid"],
            "UA_bridge": paths["steel_bridge"],
            "UA_gap_side": paths["gap_side"],
            "UA_gap_base": paths["base"],
        }

    def cooling_time(self, walls: str, refinement: int = 1) -> float:
        """Our time from T0 to T1. [s]"""
        scenario = self.scenario(walls)
        network = assemble(self.container, scenario, refinement=refinement)
        limits = limit_enthalpies(scenario, [self.inputs["T1"] + 273.15], 1)
        return float(integrate(network, limits, np.full(1, 1e6)).crossing_times[0, 0])


def _m(value: float) -> str:
    return f"{value!r} m"


def fem_cases() -> list[FemCase]:
    """Read all cases."""
    with FILE.open(newline="") as file:
        rows = list(csv.reader(file))
    names = rows[0][1:]
    cases = []
    for column, name in enumerate(names, start=1):
        inputs: dict[str, Any] = {}
        results: dict[str, float] = {}
        for row in rows[1:]:
            side, quantity = row[0].split(":", 1)
            if side == "out":
                results[quantity] = float(row[column])
            else:
                inputs[quantity] = row[column] if quantity == "plug_core" else float(row[column])
        cases.append(FemCase(name, inputs, results))
    return cases
