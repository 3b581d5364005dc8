"""Designs that the tests share."""

from typing import Any

import numpy as np

from geometries.container import Container
from geometries.overrides import with_values


def bottle_document(**body: Any) -> dict[str, Any]:
    """A slim bottle with flat shoulder, pocket lid, plug and two seals, as a design file would hold it."""
    return {
        "name": "bottle",
        "body": {
            "inside_diameter": "66 mm",
            "inside_depth": "200 mm",
            "neck": {"mouth_diameter": "44 mm", "length": "40 mm"},
            "gap": {"width": "4 mm", "base_width": "5 mm"},
            **body,
        },
        "lid": {
            "layers": [
                {"kind": "solid", "thickness": "2 mm"},
                {"kind": "pocket", "depth": "10 mm"},
                {"kind": "solid", "thickness": "2 mm"},
            ],
            "plug": {"depth": "30 mm", "clearance": "1 mm"},
            "seals": [{"depth": "2 mm"}, {"depth": "28 mm"}],
        },
    }


def bottle(**body: Any) -> Container:
    """The same as a container."""
    return Container.model_validate(bottle_document(**body))


def cup(**body: Any) -> Container:
    """An open single-wall cup."""
    wall = {"kind": "single", "inner_thickness": "1 mm"}
    return Container.model_validate(
        {"name": "cup", "body": {"inside_diameter": "80 mm", "inside_depth": "100 mm", "wall": wall, **body}}
    )


BATCH = {
    "body.inside_diameter": np.array([0.066, 0.080, 0.100]),
    "body.neck.mouth_diameter": np.array([0.030, 0.044, 0.060]),
    "body.neck.shoulder_height": np.array([0.0, 0.010, 0.020]),
    "body.gap.width": np.array([0.003, 0.004, 0.006]),
    "lid.layers.1.depth": np.array([0.005, 0.010, 0.020]),
    "lid.plug.depth": np.array([0.030, 0.035, 0.060]),
}


def batch() -> Container:
    """Three bottles in one."""
    return with_values(bottle(), BATCH)


def singles() -> list[Container]:
    """The same three, one by one."""
    return [with_values(bottle(), {path: float(v[i]) for path, v in BATCH.items()}) for i in range(3)]
