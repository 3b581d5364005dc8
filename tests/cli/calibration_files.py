"""Calibration files without a bench, to see what commands make of them."""

import json
from pathlib import Path
from typing import Any

from thermal_model.bench.calibration.coordinates import COMMON_NAMES, CONTAINER_NAMES


def calibration(path: Path, warnings: tuple[str, ...] = (), **containers: dict[str, float]) -> Path:
    """Write a calibration in which unknowns are known to a tenth of their priors, some away from their centres."""

    def block(names: tuple[str, ...], moved: dict[str, float]) -> dict[str, Any]:
        covariance = [[0.01 * (row == column) for column in names] for row in names]
        return {"names": names, "mean": [moved.get(name, 0.0) for name in names], "covariance": covariance}

    every = (*COMMON_NAMES, *CONTAINER_NAMES)
    document = {
        "kind": "holdtime calibration",
        "format": 1,
        "bench": "galley_bench",
        "common": block(COMMON_NAMES, {}),
        "containers": {name: block(every, moved) for name, moved in containers.items()},
        "seating_spread": 0.0,
        "warnings": warnings,
    }
    path.write_text(json.dumps(document), encoding="utf-8")
    return path
