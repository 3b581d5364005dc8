"""Questions in plain words: every answer leads to a design, unknown ones to a range, wrong ones to one line."""

import itertools

import pytest

from geometries.container import brim_capacity, outside_diameter
from geometries.design_file import parse_container
from geometries.errors import InputError
from geometries.questions import (
    QUESTION,
    QUESTIONS,
    UNKNOWN,
    asked_questions,
    container_of,
    design_document,
    design_text,
    height_doubt,
    next_question,
    read_answer,
)
from geometries.unsure import unsure_ranges


def filled_in(answers: dict[str, str]) -> dict[str, str]:
    """What is left open counts as not known."""
    answers = dict(answers)
    while (question := next_question(answers)) is not None:
        answers[question.key] = UNKNOWN
    return answers


CHOICES = [
    dict(zip(("walls", "material", "shape"), kinds, strict=True))
    for kinds in itertools.product(*(QUESTION[key].choices for key in ("walls", "material", "shape")))
]
LIDS = [
    dict(zip(("lid", "plug", "seals", "hole"), kinds, strict=True))
    for kinds in itertools.product(*(QUESTION[key].choices for key in ("lid", "plug", "seals", "hole")))
]


@pytest.mark.parametrize("body", CHOICES, ids=lambda c: "-".join(c.values()))
def test_every_kind_of_body_makes_a_design_when_nothing_is_measured(body: dict[str, str]) -> None:
    answers = filled_in(body)
    container = container_of(answers, "mine")
    assert parse_container(design_text(answers, "mine")) == container
    assert len(unsure_ranges(container)) >= 3


@pytest.mark.parametrize("lid", LIDS, ids=lambda c: "-".join(c.values()))
def test_every_kind_of_lid_makes_a_design(lid: dict[str, str]) -> None:
    container = container_of(filled_in(lid), "mine")
    if lid["lid"] == "none":
        assert container.lid is None
        return
    assert container.lid is not None
    assert (container.lid.plug is not None) == (lid["plug"] != "none")
    # Without a plug there is one place for a ring: the rim.
    wanted = int(lid["seals"]) if lid["plug"] != "none" else min(int(lid["seals"]), 1)
    assert len(container.lid.seals) == wanted


def test_a_ruler_s_numbers_come_back() -> None:
    answers = filled_in(
        {"shape": "neck", "mouth": "44 mm", "outside": "3 in", "capacity": "600 mL", "depth": UNKNOWN, "neck": "3 cm"}
    )
    container = container_of(answers, "mine")
    assert brim_capacity(container) == pytest.approx(6e-4)
    assert outside_diameter(container) == pytest.approx(0.0762)
    assert "body.neck.mouth_diameter" not in unsure_ranges(container)
    assert "body.gap.width" in unsure_ranges(container)


def test_inside_and_outside_of_a_mug_give_its_gap() -> None:
    answers = filled_in({"shape": "straight", "mouth": "82 mm", "outside": "90 mm", "foot": "70 mm"})
    container = container_of(answers, "mug")
    assert container.body.gap is not None
    assert container.body.gap.width == pytest.approx(0.004 - 0.0008)
    assert container.body.inside_base_diameter == pytest.approx(0.062)
    assert "body.gap.width" not in unsure_ranges(container)


def test_capacity_and_sizes_check_each_other() -> None:
    answers = {"shape": "straight", "mouth": "82 mm", "outside": "90 mm", "capacity": "250 mL", "depth": "15 cm"}
    with pytest.raises(InputError, match="250 mL is given, but the sizes hold"):
        container_of(filled_in(answers), "mug")


@pytest.mark.parametrize(
    ("key", "text", "message"),
    [
        ("walls", "vacum", "did you mean 'vacuum'?"),
        ("walls", "9", "is none of the answers"),
        ("mouth", "46", "has no unit"),
        ("mouth", "-4 mm", "must be above zero"),
        ("mouth", "4 mL", "is not a length"),
        ("capacity", "40 mm", "is not a volume"),
        ("seal_depths", "1 mm, 2 mm, 3 mm", "at most 2 sizes"),
        ("mouth", "x" * 10_000, "is too long"),
    ],
)
def test_refused(key: str, text: str, message: str) -> None:
    with pytest.raises(InputError) as refused:
        read_answer(QUESTION[key], text)
    assert message in str(refused.value)
    assert len(refused.value.problems) == 1


def test_contradictions_name_their_question() -> None:
    with pytest.raises(InputError) as refused:
        container_of(filled_in({"shape": "straight", "mouth": "90 mm", "outside": "82 mm"}), "mug")
    assert [problem.field for problem in refused.value.problems] == ["outside"]
    with pytest.raises(InputError) as refused:
        container_of(filled_in({"plug": "hollow", "seals": "2", "seal_depths": "3 mm"}), "mine")
    assert [problem.field for problem in refused.value.problems] == ["seal_depths"]
    with pytest.raises(InputError) as refused:
        container_of(filled_in({"shape": "neck", "mouth": "90 mm", "outside": "70 mm"}), "mine")
    assert "mouth" in [problem.field for problem in refused.value.problems]
    with pytest.raises(InputError, match="is no question; did you mean 'mouth'"):
        design_document({"mouht": "46 mm"}, "mine")


def test_a_number_chooses_in_the_order_shown() -> None:
    for question in QUESTIONS:
        for number, key in enumerate(question.choices, start=1):
            wanted = key if key.isdecimal() else str(number)
            assert read_answer(question, wanted) == key


@pytest.mark.parametrize(("key", "text"), [("mouth", "1e308 m"), ("shape", "0000019"), ("shape", "1" * 5000)])
def test_an_answer_beyond_all_measure_is_refused(key: str, text: str) -> None:
    with pytest.raises(InputError):
        read_answer(QUESTION[key], text)


def test_a_height_beside_a_capacity_stays_asked_and_checks_it() -> None:
    answers = {"mouth": "46 mm", "outside": "76 mm", "capacity": "500 mL", "height": "210 mm"}
    assert "height" in [question.key for question in asked_questions(answers)]
    made = container_of(answers, "slim")
    assert height_doubt(answers, made) == "the other sizes make it 170 mm tall"
    assert height_doubt(answers | {"height": "175 mm"}, made) == ""
    for unknown in ({"height": "210 mm"}, answers | {"height": UNKNOWN}, {"height": "210 mm", "capacity": UNKNOWN}):
        assert height_doubt(unknown, made) == ""
