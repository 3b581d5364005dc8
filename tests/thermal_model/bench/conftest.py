"""The demo bench, invented once for all tests that read it."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.records import Bench
from thermal_model.bench.write.demo import TRUTH_FILE, write_demo


@dataclass(frozen=True)
class Demo:
    folder: Path
    bench: Bench
    truth: dict[str, Any]


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    folder = tmp_path_factory.mktemp("galley_bench")
    write_demo(folder)
    truth = json.loads((folder / TRUTH_FILE).read_text(encoding="utf-8"))
    return Demo(folder, read_bench(folder), truth)
