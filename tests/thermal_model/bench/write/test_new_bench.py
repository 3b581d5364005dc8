"""A bench made on the page, and a copy of it that stands alone."""

import shutil
from pathlib import Path

from geometries.questions import design_text
from tests.thermal_model.bench.folders import READINGS, RUNS
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.write.new_bench import copy_with_designs, make_bench


def test_a_copy_stands_alone(tmp_path: Path) -> None:
    answers = {"mouth": "46 mm", "outside": "76 mm", "capacity": "600 mL"}
    (tmp_path / "flask.toml").write_text(design_text(answers, "flask"), encoding="utf-8")
    probes = {name: {"resolution": "0.1 C"} for name in ("pen", "wireless")}
    make_bench(tmp_path / "galley", {"flask": "../flask.toml"}, probes)
    (tmp_path / "galley" / "runs.csv").write_text(RUNS, encoding="utf-8")
    (tmp_path / "galley" / "readings.csv").write_text(READINGS, encoding="utf-8")
    before = read_bench(tmp_path / "galley")
    copy_with_designs(tmp_path / "galley", tmp_path / "alone" / "galley")
    shutil.rmtree(tmp_path / "galley")
    (tmp_path / "flask.toml").unlink()
    after = read_bench(tmp_path / "alone" / "galley")
    assert after.containers == before.containers
    assert after.runs == before.runs
