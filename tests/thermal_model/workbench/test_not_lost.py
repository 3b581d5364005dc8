"""What is typed is on disk before it is saved, and nobody writes over another, whichever process they are."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from geometries.questions import UNKNOWN, asked_questions, design_text
from tests.thermal_model.workbench.conftest import ANSWERS
from thermal_model.workbench import describe_views, drafts
from thermal_model.workbench.place import Place, digest_of

TYPED = {**ANSWERS, "draft": "unsaved_0123abcd", "changed": "1", "window": "w", "digest": ""}


def test_what_is_typed_is_there_without_saving_and_gone_once_saved(client: TestClient, folder: Path) -> None:
    client.post("/follow/best", data={**TYPED, "number": "1", "name": "Slim"})
    kept = json.loads((folder / "unsaved_0123abcd.draft.json").read_text())
    assert kept["answers"] == ANSWERS
    home = client.get("/").text
    assert "Slim" in home
    again = client.get("/containers/new?draft=unsaved_0123abcd").text
    assert 'value="46 mm"' in again
    assert 'value="unsaved_0123abcd"' in again
    assert client.post("/containers/new", data={**TYPED, "name": "Slim"}).status_code == 303
    assert [path.name for path in folder.iterdir() if not path.name.startswith(".")] == ["slim.toml"]
    client.post("/follow/best", data={**TYPED, "number": "2"})  # typed before, and late
    assert list(folder.glob("*.draft.json")) == []


def test_what_is_typed_is_on_disk_before_it_is_answered(
    client: TestClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_answer: list[str] = []

    def answered(form: object) -> dict[str, str]:
        at_answer.extend(path.name for path in folder.glob("*.draft.json"))
        return {}

    monkeypatch.setattr(describe_views, "_best", answered)
    client.post("/follow/best", data={**TYPED, "number": "1"})
    assert at_answer == ["unsaved_0123abcd.draft.json"]


def test_answers_that_do_not_fit_are_kept_too_and_older_ones_do_not_come_back(client: TestClient, folder: Path) -> None:
    client.post("/follow/best", data={**TYPED, "mouth": "90", "number": "5"})
    client.post("/follow/best", data={**TYPED, "mouth": "9", "number": "4"})
    (found,) = drafts.drafts(folder)
    assert found.answers["mouth"] == "90"
    client.post(f"/drafts/{found.key}/throw-away")
    assert drafts.drafts(folder) == []


def test_a_page_that_is_only_looked_at_leaves_nothing(client: TestClient, folder: Path) -> None:
    client.post("/follow/best", data={**TYPED, "changed": "", "number": "1"})
    assert list(folder.iterdir()) == []


def test_changes_of_a_design_are_offered_beside_it_and_still_conflict(client: TestClient, folder: Path) -> None:
    client.post("/containers/new", data={**ANSWERS, "name": "slim"})
    digest = digest_of((folder / "slim.toml").read_text())
    typed = {**TYPED, "mouth": "48 mm", "draft": "slim", "digest": digest}
    client.post("/follow/best", data={**typed, "number": "1"})
    assert "go on with it" in client.get("/containers/slim").text
    assert 'value="46 mm"' in client.get("/containers/slim").text
    resumed = client.get("/containers/slim?draft=1").text
    assert 'value="48 mm"' in resumed
    assert digest in resumed
    (folder / "slim.toml").write_text(f"# by hand\n{(folder / 'slim.toml').read_text()}")
    assert client.post("/containers/slim", data=typed).status_code == 409
    assert drafts.draft(folder, "slim") is not None


@pytest.mark.parametrize("key", ["", "..", "../x", "unsaved_zz", "bench", "a/b", "\0", "unsaved_0123abcd\n"])
def test_no_key_leads_elsewhere(client: TestClient, folder: Path, key: str) -> None:
    client.post("/follow/best", data={**TYPED, "draft": key, "number": "1"})
    assert [path.name for path in folder.iterdir() if not path.name.startswith(".")] == []
    assert [path.name for path in folder.parent.iterdir()] == ["kitchen"]
    assert drafts.draft(folder, key) is None


@pytest.mark.parametrize("damaged", ["", "{", "[]", '{"answers": 3, "name": 1}', '{"answers": {"mouth": []}}'])
def test_a_damaged_draft_is_none(client: TestClient, folder: Path, damaged: str) -> None:
    (folder / "unsaved_0123abcd.draft.json").write_text(damaged)
    assert drafts.drafts(folder) == []
    assert client.get("/").status_code == 200


ADD_ONE = """
import sys, time
from pathlib import Path
from thermal_model.workbench.place import ConflictError, Place, digest_of
place, kept = Place(Path(sys.argv[1])), 0
while kept < int(sys.argv[3]):
    text = (place.folder / "slim.toml").read_text()
    count = int(text.splitlines()[0].removeprefix("# ")) + 1
    try:
        place.save("slim", f"# {count}\\n" + text.split("\\n", 1)[1] + f"# {sys.argv[2]}\\n", digest_of(text))
        kept += 1
    except ConflictError:
        pass
"""


def test_of_two_processes_none_saves_over_what_the_other_saved(folder: Path) -> None:
    """Each counts one up and signs: a save that fell between another's check and its writing would lose a line."""
    text = design_text({one.key: ANSWERS.get(one.key, UNKNOWN) for one in asked_questions(ANSWERS)}, "slim")
    (folder / "slim.toml").write_text(f"# 0\n{text}")
    writers = [subprocess.Popen([sys.executable, "-c", ADD_ONE, str(folder), name, "15"]) for name in ("one", "two")]
    assert [writer.wait(timeout=120) for writer in writers] == [0, 0]
    lines = (folder / "slim.toml").read_text().splitlines()
    assert lines[0] == "# 30"
    assert (lines.count("# one"), lines.count("# two")) == (15, 15)


def test_the_lock_may_be_entered_again_within(folder: Path) -> None:
    place = Place(folder)
    with place.lock, place.lock:
        assert (folder / ".holdtime-lock").exists()
