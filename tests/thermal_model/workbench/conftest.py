"""The page of a folder, asked in process: no port, no waiting."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from thermal_model.workbench.app import application
from thermal_model.workbench.guard import Keys

HOST = "127.0.0.1:8123"
ORIGIN = {"origin": f"http://{HOST}"}
ANSWERS = {"mouth": "46 mm", "outside": "76 mm", "capacity": "500 mL", "walls": "vacuum", "shape": "neck"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    found = tmp_path / "kitchen"
    found.mkdir()
    return found


@pytest.fixture
def stranger(folder: Path) -> Iterator[TestClient]:
    """Somebody without the link."""
    keys = Keys()
    app = application(folder, keys, {HOST}, port=8123, is_warm=False)
    with TestClient(app, base_url=f"http://{HOST}", follow_redirects=False) as client:
        client.keys = keys  # type: ignore[attr-defined]
        yield client


@pytest.fixture
def client(stranger: TestClient) -> TestClient:
    """Somebody who came by the link."""
    answer = stranger.get(f"/enter?key={stranger.keys.link}")  # type: ignore[attr-defined]
    assert answer.status_code == 303
    stranger.headers.update(ORIGIN)
    return stranger
