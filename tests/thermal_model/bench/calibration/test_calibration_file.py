"""The calibration file: what is written is read again, and what is no such file is refused."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from geometries.errors import InputError
from thermal_model.bench.calibration.calibration_file import (
    CalibrationFile,
    calibration_document,
    read_calibration,
    write_calibration,
)
from thermal_model.bench.calibration.coordinates import COMMON_NAMES
from thermal_model.bench.calibration.fit import Fit
from thermal_model.bench.calibration.posterior import belief
from thermal_model.uncertainty import PRIORS


@pytest.fixture
def written(mixed_fit: Fit, tmp_path: Path) -> Path:
    path = tmp_path / "calibration.json"
    write_calibration(path, calibration_document(mixed_fit))
    return path


def test_what_is_written_is_read(mixed_fit: Fit, written: Path) -> None:
    known = read_calibration(written)
    for container in ("wide_mouth_disc", "thin_disc_lid", None):
        ours, theirs = belief(mixed_fit, container), known.belief(container)
        assert ours.names == theirs.names
        assert theirs.mean == pytest.approx(ours.mean, abs=1e-8)
        assert theirs.root == pytest.approx(ours.root, abs=1e-8)


def test_common_unknowns_come_first_and_are_the_same(written: Path) -> None:
    known = read_calibration(written)
    count = len(COMMON_NAMES)
    first, second, alone = (known.belief(name) for name in ("wide_mouth_disc", "thin_disc_lid", None))
    assert first.names[:count] == second.names[:count] == alone.names == COMMON_NAMES
    assert first.root[:count, :count] == pytest.approx(second.root[:count, :count])
    assert alone.mean == pytest.approx(first.mean[:count])


def test_a_next_run_seats_anew(mixed_fit: Fit, written: Path) -> None:
    """The variance of the lid's contact is that of the container and that from run to run."""
    known = read_calibration(written)
    block = known.containers["wide_mouth_disc"]
    place = block.names.index("lid_contact")
    whole = known.belief("wide_mouth_disc").root @ known.belief("wide_mouth_disc").root.T
    added = (known.seating_spread / PRIORS["lid_contact"].width) ** 2
    assert whole[place, place] == pytest.approx(block.covariance[place, place] + added)
    assert known.seating_spread > 0.05


def changed(path: Path, **entries: Any) -> Path:
    document = json.loads(path.read_text())
    path.write_text(json.dumps(document | entries))
    return path


def test_what_is_no_calibration_is_refused(written: Path, tmp_path: Path) -> None:
    other = tmp_path / "prediction.json"
    other.write_text('{"hold_times": []}')
    for path in (other, changed(written, kind="a shopping list")):
        with pytest.raises(InputError, match=r"is no calibration file; holdtime calibrate BENCH --output FILE"):
            read_calibration(path)
    other.write_text("time [min],temperature [C]\n1,2\n")
    with pytest.raises(InputError, match="is not JSON, so no calibration file"):
        read_calibration(other)


def test_another_format_is_refused(written: Path) -> None:
    with pytest.raises(InputError, match="has format 99, this version reads 1"):
        read_calibration(changed(written, format=99))


@pytest.mark.parametrize(
    "common",
    [
        {"names": ["exterior_film"], "mean": [0.0, 1.0], "covariance": [[1.0]]},
        {"names": ["exterior_film"], "mean": [0.0], "covariance": [[-1.0]]},
        {"names": ["exterior_film"], "mean": [None], "covariance": [[1.0]]},
        {"mean": [0.0]},
        [],
    ],
)
def test_a_damaged_file_is_refused(written: Path, common: Any) -> None:
    with pytest.raises(InputError, match="is damaged"):
        read_calibration(changed(written, common=common))


def test_unknowns_of_another_version_are_refused(written: Path) -> None:
    with pytest.raises(InputError, match="is for other unknowns than this version has"):
        read_calibration(changed(written, common={"names": ["colour"], "mean": [0.0], "covariance": [[1.0]]}))


def test_a_name_that_was_not_on_the_bench_is_refused_with_the_nearest(written: Path) -> None:
    known: CalibrationFile = read_calibration(written)
    with pytest.raises(InputError, match=r"did you mean 'wide_mouth_disc'\?"):
        known.check_name("wide_mouth", "--calibrated-as")


def test_numbers_are_finite(written: Path) -> None:
    document = json.loads(written.read_text())
    assert np.all(np.isfinite(document["containers"]["thin_disc_lid"]["covariance"]))
    assert document["converged"] is True
