"""Words: what the page says holds no term of statistics or heat transfer either."""

from pathlib import Path

import pytest

import thermal_model.workbench
from tests.cli.test_words import found_in

ROOT = Path(thermal_model.workbench.__path__[0])
TEXTS = [*sorted((ROOT / "templates").glob("*.html")), *sorted((ROOT / "static").glob("*.js"))]


@pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.name)
def test_what_a_tester_reads(path: Path) -> None:
    assert found_in(path.read_text(encoding="utf-8")) == []
