"""The finite-element cases of fem_cases.csv and fem_cases_2.csv as containers and scenarios with pinned coefficients.

Source: independent axisymmetric finite-element solutions, discretisation error below 0.05 % (first file) and 0.01 % of
UA (second file); all inputs and results stand in the files. Inside films refer to the temperature of the liquid. Single
walls are split by their outer face at the liquid's level. Of a foamed gap side and bridge are judged together, since
foam joins the two.
"""

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from geometries.container import Container
from geometries.materials import material
from thermal_model.assemble.build import assemble
from thermal_model.follow import limit_enthalpies
from thermal_model.prediction import heat_paths
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import integrate
from thermal_model.solver.network import Network
from thermal_model.unknowns import Unknowns

FILES = [Path(__file__).with_name(name) for name in ("fem_cases.csv", "fem_cases_2.csv")]

LEFT_OUT = {"k_out": 0.0, "gap": "layer", "seal_depths": "", "k_foam": 0.025, "rho_foam": 35.0, "c_foam": 1400.0}
"""Inputs that only the second file has, and what the first means by leaving them out."""

WORDS = ("plug_core", "gap", "seal_depths")
"""Inputs that are no numbers."""

FOAM = "polyurethane_foam"
"""Has the density and the heat capacity of the foam in the file."""


@dataclass(frozen=True)
class FemCase:
    """One column of the file: inputs and results, SI."""

    name: str
    inputs: dict[str, Any]
    results: dict[str, float]

    @property
    def is_foamed(self) -> bool:
        """Whether foam fills the gap."""
        return self.inputs["gap"] == "foam" and bool(self.inputs["double_wall"])

    @property
    def paths(self) -> dict[str, tuple[str, ...]]:
        """What is judged by 5 %, each by the quantities that add up to it."""
        alone = {"UA_lid": ("UA_lid",)}
        if self.is_foamed:
            return alone | {"UA_gap_side + UA_bridge": ("UA_gap_side", "UA_bridge")}
        return alone | {"UA_bridge": ("UA_bridge",), "UA_gap_side": ("UA_gap_side",)}  # type: ignore[return-value]

    @property
    def container(self) -> Container:
        """The container with its dimensions."""
        return Container.model_validate(
            {"name": "finite_element_case", "summary": self.name, "body": self._body(), "lid": self._lid()}
        )

    def _lid(self) -> dict[str, Any]:
        i = self.inputs
        has_pocket, has_plug = i["lid_t_pocket"] > 0, i["plug_depth"] > 0
        layers = [{"kind": "solid", "thickness": _m(i["lid_t_bottom"])}]
        if has_pocket:
            layers += [
                {"kind": "pocket", "depth": _m(i["lid_t_pocket"])},
                {"kind": "solid", "thickness": _m(i["lid_t_top"])},
            ]
        lid: dict[str, Any] = {
            "layers": layers,
            "side_thickness": _m(i["lid_t_side"]),
            "overhang": _m(i["lid_overhang"]),
            "seals": [{"depth": "0 mm"}],
        }
        if has_plug:
            lid["plug"] = {
                "kind": "foam",
                "depth": _m(i["plug_depth"]),
                "clearance": _m(i["ann_gap"]),
                "wall_thickness": _m(i["plug_wall"]),
            }
            lid["seals"] = [{"depth": _m(depth), "height": _m(i["t_seal"])} for depth in self._seal_depths()]
        return lid

    def _seal_depths(self) -> list[float]:
        i = self.inputs
        if i["seal_depths"]:
            return [float(depth) for depth in i["seal_depths"].split(";")]
        half = 0.5 * i["t_seal"]
        return [half, i["plug_depth"] - half][: int(i["seals"])]

    def _body(self) -> dict[str, Any]:
        i = self.inputs
        body: dict[str, Any] = {
            "inside_diameter": _m(2 * i["Ri"]),
            "inside_depth": _m(i["Hb"] + i["Ln"]),
            "wall": {"kind": "single", "inner_thickness": _m(i["t_in"])},
        }
        if i["double_wall"]:
            body |= {
                "wall": {"kind": "double", "inner_thickness": _m(i["t_in"]), "outer_thickness": _m(i["t_out"])},
                "gap": {"kind": "vacuum", "width": _m(i["g"]), "base_width": _m(i["g_base"])},
                "lip": {"thickness": _m(i["t_lip"])},
            }
        if self.is_foamed:
            body["gap"] |= {"kind": "foam", "foam_material": FOAM}
        if i["Rm"] < i["Ri"]:
            body["neck"] = {
                "mouth_diameter": _m(2 * i["Rm"]),
                "length": _m(i["Ln"]),
                "shoulder_height": "0 mm",
            }
        return body

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
        if not self.is_foamed:
            pins["gap_conductance"] = film(i["h_gap"])
        return Scenario.model_validate(
            {
                "fill": f"{i['fill_mL']} mL",
                "start": f"{i['T0']} C",
                "room": f"{i['T_amb']} C",
                "walls": walls,
                "pins": pins,
            }
        )

    def network(self, scenario: Scenario, refinement: int = 1) -> Network:
        """The network of the case; its foam has the conductivity of the file by way of the unknown that scales it."""
        factor = 1.0
        if self.is_foamed:
            factor = self.inputs["k_foam"] / material(FOAM).conductivity_300K
        return assemble(self.container, scenario, Unknowns(gap_conduction=factor), refinement=refinement)

    def heat_paths(self, refinement: int = 1) -> dict[str, float]:
        """Our UA and its split, by the names of the file. [W K-1]"""
        scenario = self.scenario()
        network = self.network(scenario, refinement)
        _, total, paths, _ = heat_paths(network, scenario, [self.inputs["T1"] + 273.15])
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
        network = self.network(scenario, refinement)
        limits = limit_enthalpies(scenario, [self.inputs["T1"] + 273.15], 1)
        return float(integrate(network, limits, np.full(1, 1e6)).crossing_times[0, 0])


def _m(value: float) -> str:
    return f"{value!r} m"


def fem_cases() -> list[FemCase]:
    """Read all cases of both files."""
    return [case for file in FILES for case in _cases_of(file)]


def _cases_of(path: Path) -> list[FemCase]:
    with path.open(newline="") as file:
        rows = list(csv.reader(file))
    cases = []
    for column, name in enumerate(rows[0][1:], start=1):
        inputs: dict[str, Any] = dict(LEFT_OUT)
        results: dict[str, float] = {}
        for row in rows[1:]:
            side, quantity = row[0].split(":", 1)
            if side == "out":
                results[quantity] = float(row[column])
            else:
                inputs[quantity] = row[column] if quantity in WORDS else float(row[column])
        cases.append(FemCase(name, inputs, results))
    return cases
