"""Describing: what follows every change, what is said beside a field, and saving without a loss."""

from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from geometries.answers import answers_of
from geometries.design_file import catalogue_names, catalogue_path, load_container
from geometries.files import parse_toml
from geometries.questions import QUESTION, UNKNOWN, Answers, asked_questions, design_text, next_question
from tests.thermal_model.workbench.conftest import ANSWERS
from thermal_model.prediction import predict
from thermal_model.report.summary import held_text
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import Scale
from thermal_model.workbench.live import CONDITIONS

CASES: list[dict[str, str]] = [
    {},
    ANSWERS,
    {"shape": "straight", "walls": "air", "material": "plastic", "mouth": "80 mm", "outside": "92 mm", "foot": "70 mm"},
    {"shape": "straight", "walls": "single", "material": "stoneware", "mouth": "3 1/4 in", "lid": "none"},
    {"walls": "foam", "lid": "foam", "lid_height": "22 mm", "seals": "2", "plug": "open", "seal_depths": "3 mm, 20 mm"},
    {"lid": "solid", "hole": "closed_spout", "hole_diameter": "9 mm", "seals": "0", "finish": "bare"},
]
MARKUP = "<script>alert(1)</script>\"'&"


@pytest.mark.parametrize("answers", CASES)
def test_a_file_made_of_answers_gives_them_back(answers: Answers) -> None:
    text = design_text(answers, "x")
    found = answers_of(parse_toml(text))
    assert found is not None
    assert parse_toml(design_text(found, "x")) == parse_toml(text)


def test_a_design_that_says_more_gives_no_answers() -> None:
    found = {name: answers_of(parse_toml(catalogue_path(name).read_text())) for name in catalogue_names()}
    assert found["slim_neck_double_seal"] is None


def test_the_same_questions_as_the_terminal() -> None:
    answers: dict[str, str] = {}
    while (question := next_question(answers)) is not None:
        answers[question.key] = ANSWERS.get(question.key, UNKNOWN)
    assert [question.key for question in asked_questions(ANSWERS)] == list(answers)


def test_the_page_says_what_the_command_says(client: TestClient, folder: Path) -> None:
    client.post("/containers/new", data={**ANSWERS, "name": "slim"})
    told = predict(load_container(folder / "slim.toml"), Scenario(), [333.15])
    best = client.post("/follow/best", data=ANSWERS).json()
    assert best["problems"] == {}
    hours = np.interp(-60.0, -np.array(best["curve"]["middle"]), best["curve"]["hours"])
    assert hours == pytest.approx(told.hold_times[0].nominal / 3600.0, rel=1e-3)
    whole = client.post("/follow/band", data={**ANSWERS, "whole": "1"}).json()
    assert held_text(told.hold_times[0], told, Scale.CELSIUS) in whole["held"]
    assert "probably between" in whole["held"]
    assert whole["curve"]["low"] == pytest.approx((told.curve.low - 273.15).tolist(), abs=0.01)


def test_an_older_change_gives_way(client: TestClient) -> None:
    client.post("/follow/best", data={**ANSWERS, "window": "w", "number": "7"})
    answer = client.post("/follow/band", data={**ANSWERS, "window": "w", "number": "6"})
    assert answer.json() == {"superseded": True}


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"mouth": "46"}, "mouth", "has no unit"),
        ({"mouth": "46 W"}, "mouth", "46 W"),
        ({"mouth": "-3 mm"}, "mouth", "above zero"),
        ({"mouth": "80 mm"}, "mouth", "wider than the body"),
        ({"depth": "300 mm", "capacity": "500 mL"}, "capacity", "is the diameter the inside one"),
        ({"start": "warm"}, "start", "warm"),
        ({"until": "95 C"}, "until", "warm"),
        ({"fill": "2 L"}, "fill", "L"),
        ({"room": "60 F", "until": "50 F"}, "until", "below the room"),
    ],
)
def test_what_is_wrong_is_said_beside_the_field(
    client: TestClient, given: dict[str, str], field: str, words: str
) -> None:
    answer = client.post("/follow/best", data={**ANSWERS, **given})
    assert answer.status_code == 200
    assert words in answer.json()["problems"][field]


def test_what_is_unlikely_is_said_though_it_can_be(client: TestClient) -> None:
    found = client.post("/follow/best", data={**ANSWERS, "mouth": "12 mm"}).json()
    assert found["doubts"]["mouth"].startswith("most are between")
    assert found["curve"]


@pytest.mark.parametrize("key", [*QUESTION, *CONDITIONS, "name", "window", "number"])
def test_markup_in_a_field_stays_text(client: TestClient, folder: Path, key: str) -> None:
    """Shown by the script as text; in pages it is escaped."""
    # More than it holds: nothing is computed, all of it is read.
    form = {**ANSWERS, "depth": UNKNOWN, "name": "slim", "fill": "9 L", key: MARKUP}
    assert client.post("/follow/best", data=form).status_code == 200
    saved = client.post("/containers/new", data=form)
    assert MARKUP not in saved.text
    assert "<script>alert" not in saved.text
    for name in ("slim",) if (folder / "slim.toml").exists() else ():
        assert "<script>alert" not in client.get(f"/containers/{name}").text


def test_markup_in_a_file_is_escaped_wherever_it_shows(client: TestClient, folder: Path) -> None:
    (folder / "<b>bold<script>.toml").write_text('[body]\nwidth = "<script>alert(1)</script>"\n', encoding="utf-8")
    text = catalogue_path("stoneware_cup").read_text().replace('title = "', 'title = "<script>alert(2)</script>')
    (folder / "cup.toml").write_text(text, encoding="utf-8")
    for page in ("/", "/containers/cup", "/containers/%3Cb%3Ebold%3Cscript%3E"):
        assert "<script>alert" not in client.get(page).text, page
    drawn = client.post("/follow/best", data={"text": text}).json()
    assert "<script>" not in drawn["drawing"]


@pytest.mark.parametrize("name", ["../out", "..", "a/b", "bench", "", "9lives", "con\x00", "x" * 80, "C:\\x"])
def test_a_name_that_leads_elsewhere_is_refused(client: TestClient, folder: Path, name: str) -> None:
    answer = client.post("/containers/new", data={**ANSWERS, "name": name})
    assert answer.status_code == 422
    assert list(folder.iterdir()) == []
    assert [path.name for path in folder.parent.iterdir()] == ["kitchen"]


def test_a_link_out_of_the_folder_is_not_followed(client: TestClient, folder: Path) -> None:
    outside = folder.parent / "outside.toml"
    outside.write_text(catalogue_path("stoneware_cup").read_text(), encoding="utf-8")
    (folder / "inside.toml").symlink_to(outside)
    assert client.get("/containers/inside").status_code == 422
    assert "inside" not in client.get("/").text


def test_two_windows_never_write_over_each_other(client: TestClient, folder: Path) -> None:
    client.post("/containers/new", data={**ANSWERS, "name": "slim"})
    first = (folder / "slim.toml").read_text()
    digest = client.get("/containers/slim").text.split('name="digest" value="')[1].split('"')[0]
    (folder / "slim.toml").write_text(f"# by hand\n{first}", encoding="utf-8")
    conflict = client.post("/containers/slim", data={**ANSWERS, "mouth": "48 mm", "digest": digest})
    assert conflict.status_code == 409
    assert "# by hand" in conflict.text
    assert "48 mm" in conflict.text
    assert (folder / "slim.toml").read_text() == f"# by hand\n{first}"
    again = client.post("/containers/new", data={**ANSWERS, "mouth": "50 mm", "name": "slim"})
    assert again.status_code == 409
    assert (folder / "slim.toml").read_text() == f"# by hand\n{first}"


def test_the_page_of_a_new_container_is_saved_and_shown_again(client: TestClient, folder: Path) -> None:
    assert client.post("/containers/new", data={**ANSWERS, "name": "Slim flask"}).status_code == 303
    assert (folder / "slim_flask.toml").read_text() == design_text(
        {question.key: ANSWERS.get(question.key, UNKNOWN) for question in asked_questions(ANSWERS)}, "slim_flask"
    )
    shown = client.get("/containers/slim_flask").text
    assert 'value="46 mm"' in shown
    assert "500 mL to the brim" in client.get("/").text


def test_a_text_that_is_no_design_is_not_saved(client: TestClient, folder: Path) -> None:
    client.post("/containers/new", data={**ANSWERS, "name": "slim"})
    before = (folder / "slim.toml").read_text()
    answer = client.post("/containers/slim", data={"text": "body = 3", "digest": ""})
    assert answer.status_code == 422
    assert (folder / "slim.toml").read_text() == before


def test_a_text_says_that_it_was_saved(client: TestClient, folder: Path) -> None:
    client.post("/containers/new", data={**ANSWERS, "name": "slim"})
    text = (folder / "slim.toml").read_text() + '\n[materials.our_steel]\nlike = "stainless_304"\nspread = "5 %"\n'
    digest = client.get("/containers/slim").text.split('name="digest" value="')[1].split('"')[0]
    answer = client.post("/containers/slim", data={"text": text, "digest": digest})
    shown = client.get(answer.headers["location"]).text
    assert "Saved as slim.toml." in shown
    assert "This file says more than the questions can ask" in shown


def test_beside_another(client: TestClient) -> None:
    client.post("/containers/new", data={**ANSWERS, "name": "slim"})
    client.post("/containers/new", data={**ANSWERS, "mouth": "60 mm", "name": "wide"})
    found = client.post("/follow/beside", data={"other": "wide", "start": "90 C"}).json()
    assert "mouth 60 mm" in found["drawing"]
    assert "stays above 60 °C" in found["held"]


def test_why_one_beside_another_holds_longer(client: TestClient) -> None:
    """The parts' minutes add up to the difference; swapped, the signs are."""
    client.post("/containers/new", data={**ANSWERS, "name": "slim"})
    wide = {**ANSWERS, "mouth": "60 mm"}
    client.post("/containers/new", data={**wide, "name": "wide"})
    mine = client.post("/follow/beside", data={**ANSWERS, "other": "wide"}).json()["why"]
    theirs = client.post("/follow/beside", data={**wide, "other": "slim"}).json()["why"]
    assert mine[0].startswith("mouth: +")
    assert [line.replace("-", "+").replace("−", "+") for line in theirs] == mine
    assert client.post("/follow/beside", data={**ANSWERS, "other": "slim"}).json()["why"] == [
        "They are alike in every part."
    ]
