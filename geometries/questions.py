"""A few questions in plain words whose answers make a design: what a ruler and a look into the lid can tell.

Every question may be left unanswered: a usual value then stands in, and the design says how far off it may be. The
terminal and the page ask the same questions.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from geometries.container import Container, outside_height
from geometries.errors import InputError, InputProblem, at_once, nearest_hint, told_of
from geometries.quantities import Dimension, format_quantity, parse_quantity
from geometries.validation import validated

UNKNOWN = "?"
"""The answer of someone who does not know."""

Answers = Mapping[str, str]
"""Answers by the key of their question."""

WALL = 0.0004
"""Thickness of a steel wall that nobody measured [m]; common practice, no source."""


@dataclass(frozen=True)
class FormQuestion:
    """A question.

    Attributes
    ----------
    key : str
    text : str
        In plain words.
    how : str
        How to find out.
    usual : str
        Stands in for an answer that is not known.
    span : str
        Range in which nine in ten of the unknown lie, "30..65 mm"; "" where the usual value settles it.
    choices : mapping of str to str
        Answers to choose from, with their words; empty: a size is asked for.
    dimension : Dimension
        Of a size.
    count : int
        How many sizes at most, commas between them.
    may_be_zero : bool
        Whether a size of zero has a meaning.
    is_asked : callable
        Whether the answers so far make it a question.
    """

    key: str
    text: str
    how: str = ""
    usual: str = ""
    span: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    dimension: Dimension = Dimension.LENGTH
    count: int = 1
    may_be_zero: bool = False
    is_asked: Callable[[Answers], bool] = lambda _: True


def _has(key: str, *values: str) -> Callable[[Answers], bool]:
    return lambda answers: answers.get(key, "") in values


def _has_some(key: str) -> Callable[[Answers], bool]:
    return lambda answers: answers.get(key, "") not in ("none", "")


QUESTIONS = (
    FormQuestion(
        "walls",
        "What are its walls?",
        "Two walls: tapped with a fingernail it sounds thin, and hot contents do not warm the outside.",
        "vacuum",
        choices={
            "vacuum": "two walls, nothing between them (vacuum)",
            "air": "two walls with air between them",
            "foam": "two walls with foam between them",
            "single": "one wall",
        },
    ),
    FormQuestion(
        "material",
        "What are the walls made of?",
        "The inside one, if they differ.",
        "steel",
        choices={"steel": "stainless steel", "plastic": "plastic", "glass": "glass", "stoneware": "stoneware"},
    ),
    FormQuestion(
        "shape",
        "Is the mouth narrower than the body?",
        "",
        "neck",
        choices={"neck": "yes, there is a neck", "straight": "no, a mug, cup or tumbler"},
    ),
    FormQuestion("mouth", "How wide is the mouth, inside?", "Ruler across the mouth, lid off.", "46 mm", "30..70 mm"),
    FormQuestion("outside", "How wide is the body, outside?", "Tape around it, divided by 3.14.", "76 mm", "66..88 mm"),
    FormQuestion(
        "foot",
        "How wide is it at the foot, outside?",
        "The same as above if it does not narrow.",
        is_asked=_has("shape", "straight"),
    ),
    FormQuestion(
        "capacity",
        "How much does it hold, to the brim?",
        "Weigh the water that fills it, lid off: 1 g is 1 mL.",
        dimension=Dimension.VOLUME,
    ),
    FormQuestion("depth", "How deep is it inside?", "Ruler or straw from the mouth to the floor, lid off."),
    FormQuestion(
        "height",
        "How tall is it outside, without the lid?",
        "From the table to the rim.",
        "210 mm",
        "160..270 mm",
        # One that was given stays: beside capacity or depth it checks them.
        is_asked=lambda a: (
            a.get("height", UNKNOWN) != UNKNOWN or (a.get("capacity") == UNKNOWN and a.get("depth") == UNKNOWN)
        ),
    ),
    FormQuestion(
        "neck",
        "How long is the straight part of the neck?",
        "Ruler down the inside, from the rim to where it widens.",
        "30 mm",
        "18..50 mm",
        is_asked=_has("shape", "neck"),
    ),
    FormQuestion(
        "lid",
        "What is the lid?",
        "Tapped, a hollow lid sounds hollow.",
        "hollow",
        choices={
            "none": "no lid, it stands open",
            "solid": "a plain disc or cap",
            "hollow": "a hollow cap with air in it",
            "foam": "a cap with foam in it",
        },
    ),
    FormQuestion(
        "lid_height",
        "How thick is the lid above the rim?",
        "Ruler beside the closed lid; the screw skirt does not count.",
        "14 mm",
        "6..30 mm",
        is_asked=_has_some("lid"),
    ),
    FormQuestion(
        "plug",
        "Does the lid reach down into the mouth?",
        "Look from below: a plug closed at its end, or an open tube.",
        "none",
        choices={
            "none": "no",
            "hollow": "yes, a closed hollow plug",
            "solid": "yes, a solid plug",
            "foam": "yes, a plug filled with foam",
            "open": "yes, a tube that is open at its end",
        },
        is_asked=_has_some("lid"),
    ),
    FormQuestion(
        "plug_depth",
        "How deep does it reach below the rim?",
        "Ruler along the plug.",
        "30 mm",
        "18..45 mm",
        is_asked=_has_some("plug"),
    ),
    FormQuestion(
        "clearance",
        "How wide is the space between plug and wall?",
        "Half of mouth less plug; screw threads included.",
        "1.5 mm",
        "0.7..3.2 mm",
        is_asked=_has_some("plug"),
    ),
    FormQuestion(
        "seals",
        "How many rings seal it?",
        "Rubber or silicone rings on the lid.",
        "1",
        choices={"0": "none", "1": "one", "2": "two"},
        is_asked=_has_some("lid"),
    ),
    FormQuestion(
        "seal_depths",
        "How deep below the rim do they seal?",
        "0 mm is on the rim itself; for two rings give both: '3 mm, 30 mm'.",
        count=2,
        may_be_zero=True,
        is_asked=lambda a: _has_some("plug")(a) and a.get("seals") in ("1", "2"),
    ),
    FormQuestion(
        "hole",
        "Does the lid have a hole to drink through?",
        "",
        "none",
        choices={
            "none": "no",
            "spout": "a spout that stays open",
            "closed_spout": "a spout that closes",
            "straw": "a hole for a straw",
        },
        is_asked=_has_some("lid"),
    ),
    FormQuestion(
        "hole_diameter",
        "How wide is the hole?",
        "",
        "10 mm",
        "6..16 mm",
        is_asked=_has_some("hole"),
    ),
    FormQuestion(
        "finish",
        "What does the outside look like?",
        "",
        "coated",
        choices={"bare": "bare, shiny", "coated": "painted, coated or printed"},
        is_asked=_has("material", "steel"),
    ),
)


def next_question(answers: Answers) -> FormQuestion | None:
    """Return the first question that is to be asked and has no answer yet, None at the end."""
    taken = {
        key: QUESTION[key].usual or text if text == UNKNOWN and key in QUESTION else text
        for key, text in answers.items()
    }
    return next((q for q in QUESTIONS if q.key not in answers and q.is_asked(taken)), None)


def asked_questions(answers: Answers) -> list[FormQuestion]:
    """Return all questions that answers call for; a question without an answer counts as not known."""
    taken = dict.fromkeys(QUESTION, UNKNOWN) | {key: text.strip() or UNKNOWN for key, text in answers.items()}
    usual = {key: QUESTION[key].usual or text if text == UNKNOWN else text for key, text in taken.items()}
    return [question for question in QUESTIONS if question.is_asked(usual | {question.key: taken[question.key]})]


def height_doubt(answers: Answers, container: Container) -> str:
    """Return what is odd about a height that was given beside capacity or depth, which say it too; "" if nothing."""
    given = {key for key, text in answers.items() if text.strip() not in ("", UNKNOWN)}
    if "height" not in given or not given & {"capacity", "depth"}:
        return ""
    told, found = _read_size(QUESTION["height"], answers["height"]), float(outside_height(container))
    if abs(told - found) <= HEIGHT_MARGIN:
        return ""
    return f"the other sizes make it {1e3 * found:.0f} mm tall"


HEIGHT_MARGIN = 0.015
"""Difference that a floor and a gap below it, which nobody measured, may make [m]; judgement."""


def doubts(answers: Answers) -> dict[str, str]:
    """Return what looks unlikely about sizes, by key of their question; what can't be read is left to `container_of`.

    Examples
    --------
    >>> doubts({"mouth": "46 cm"})
    {'mouth': 'most are between 15 mm and 130 mm; is the unit right, and is it the inside?'}
    """
    found = {}
    for key, (low, high, hint) in _LIKELY.items():
        for part in answers.get(key, "").split(","):
            try:
                size = _read_size(QUESTION[key], part.strip())
            except InputError:
                continue
            ends = [parse_quantity(end, QUESTION[key].dimension) for end in (low, high)]
            if not ends[0] <= size <= ends[1] and not (size == 0.0 and QUESTION[key].may_be_zero):
                found[key] = f"most are between {low} and {high}; {hint}"
    return found


_LIKELY = {
    "mouth": ("15 mm", "130 mm", "is the unit right, and is it the inside?"),
    "outside": ("40 mm", "200 mm", "is the unit right? Around it with a tape is 3.14 times as much"),
    "foot": ("30 mm", "200 mm", "is the unit right?"),
    "capacity": ("100 mL", "5 L", "is the unit right?"),
    "depth": ("50 mm", "400 mm", "is the unit right?"),
    "height": ("60 mm", "450 mm", "is the unit right?"),
    "neck": ("3 mm", "120 mm", "only the straight part counts"),
    "lid_height": ("1 mm", "80 mm", "only what stands above the rim counts"),
    "plug_depth": ("5 mm", "100 mm", "it counts from the rim down"),
    "clearance": ("0.2 mm", "8 mm", "it is half of mouth less plug"),
    "seal_depths": ("0.5 mm", "90 mm", "it counts from the rim down"),
    "hole_diameter": ("2 mm", "40 mm", "is the unit right?"),
}
"""Sizes outside of which a word is said; judgement, no source."""


def read_answer(question: FormQuestion, text: str) -> str:
    """Return an answer as it is kept: a choice's key, a size as typed, or UNKNOWN.

    Raises
    ------
    InputError
        If it is no choice, or no size.

    Examples
    --------
    >>> read_answer(QUESTIONS[0], "")
    '?'
    >>> read_answer(QUESTIONS[3], "46mm")
    '46mm'
    """
    text = text.strip()
    if text.lower() in ("", UNKNOWN, "unknown", "don't know", "no idea"):
        return UNKNOWN
    if question.choices:
        return _read_choice(question, text)
    parts = [part.strip() for part in text.split(",")] if question.count > 1 else [text]
    if len(parts) > question.count:
        raise InputError(f"at most {question.count} sizes are wanted; got {len(parts)}", question.key, text)
    for part in parts:
        _read_size(question, part)
    return text


def _read_choice(question: FormQuestion, text: str) -> str:
    keys = list(question.choices)
    if text.isdecimal() and len(text) < 4 and text not in keys and 1 <= int(text) <= len(keys):
        return keys[int(text) - 1]
    if text.lower() in keys:
        return text.lower()
    hint = nearest_hint(text, keys)
    raise InputError(f"is none of the answers; {hint}take {', '.join(keys)}, or {UNKNOWN}", question.key, text)


LARGEST_ANSWER = 100.0
"""Of a size, a volume or a mass [m, m3, kg]: beyond it, numbers no longer can be written in small units."""


def _read_size(question: FormQuestion, text: str) -> float:
    with told_of(question.key):
        size = parse_quantity(text, question.dimension)
    if size > LARGEST_ANSWER:
        raise InputError("is larger than any drink container", question.key, text)
    if size < 0.0 or (size == 0.0 and not question.may_be_zero):
        least = "zero or more" if question.may_be_zero else "above zero"
        raise InputError(f"must be {least}", question.key, text)
    return size


def container_of(answers: Answers, name: str) -> Container:
    """Return the container that answers describe.

    Parameters
    ----------
    answers : mapping of str to str
        By key; what is missing counts as not known.
    name : str
        Of the container.

    Raises
    ------
    InputError
        If an answer is none, or they contradict each other.
    """
    document = design_document(answers, name)
    try:
        return validated(Container, document, "")
    except InputError as error:
        raise InputError(_in_words(problem) for problem in error.problems) from None


def _in_words(problem: InputProblem) -> InputProblem:
    """Return a problem of a design's field as one of the answer it came from."""
    for start, key in _ANSWER_OF.items():
        if problem.field.startswith(start):
            return InputProblem(problem.message, key)
    return problem


_ANSWER_OF = {
    "body.neck.mouth_diameter": "mouth",
    "body.neck.length": "neck",
    "body.inside_diameter": "mouth",
    "body.outside_diameter": "outside",
    "body.inside_base_diameter": "foot",
    "body.capacity": "capacity",
    "body.inside_depth": "depth",
    "body.outside_height": "height",
    "body.gap": "outside",
    "lid.plug.depth": "plug_depth",
    "lid.plug.clearance": "clearance",
    "lid.plug": "plug",
    "lid.seals": "seal_depths",
    "lid.openings": "hole_diameter",
    "lid": "lid_height",
}


def design_document(answers: Answers, name: str) -> dict[str, Any]:
    """Return a design as a file would hold it, with a range for each size that is not known.

    Raises
    ------
    InputError
        If an answer is none of its question.
    """
    told = _Told(answers)
    body = _body(told)
    document: dict[str, Any] = {"name": name, "body": body}
    if told.choice("lid") != "none":
        document["lid"] = _lid(told)
    if told.unsure:
        document["unsure"] = told.unsure
    return document


class _Told:
    """Answers, read; what is not known gets its usual value and its range."""

    def __init__(self, answers: Answers) -> None:
        extra = sorted(answers.keys() - QUESTION.keys())
        if extra:
            raise InputError(f"is no question; {nearest_hint(extra[0], QUESTION)}", extra[0])
        read = at_once(*(partial(read_answer, QUESTION[key], text) for key, text in answers.items()))
        self.read: dict[str, str] = dict(zip(answers, read, strict=True))
        self.unsure: dict[str, str] = {}

    def is_known(self, key: str) -> bool:
        return self.read.get(key, UNKNOWN) != UNKNOWN

    def choice(self, key: str) -> str:
        """Return the answer, or the usual one."""
        return self.read[key] if self.is_known(key) else QUESTION[key].usual

    def size(self, key: str, path: str) -> str:
        """Return a size as text, or the usual one, whose range is then noted for a path of the design."""
        question = QUESTION[key]
        if self.is_known(key):
            return self.read[key]
        if question.span:
            self.unsure[path] = question.span
        return question.usual

    def metres(self, key: str) -> float:
        """Return a size, or the usual one [m]."""
        return parse_quantity(self.choice(key), Dimension.LENGTH)


MATERIALS = {
    "steel": "stainless_304",
    "plastic": "polypropylene",
    "glass": "borosilicate_glass",
    "stoneware": "stoneware",
}
_THICKNESSES = {"steel": WALL, "plastic": 0.002, "glass": 0.0015, "stoneware": 0.0045}
"""Of a wall that nobody measured [m]; common practice, no source."""

_GAPS = {"vacuum": ("4 mm", "2.5..6.5 mm"), "air": ("5 mm", "3..8 mm"), "foam": ("12 mm", "7..20 mm")}
"""Usual widths of a gap that nobody sees, and where nine in ten lie; judgement, no source."""


def _body(told: _Told) -> dict[str, Any]:
    walls, material = told.choice("walls"), told.choice("material")
    thickness = _THICKNESSES[material]
    wall: dict[str, Any] = {"material": MATERIALS[material], "inner_thickness": _mm(thickness)}
    body: dict[str, Any] = {"wall": wall}
    if walls == "single":
        wall["kind"] = "single"
        if material != "steel":
            told.unsure["body.wall.inner_thickness"] = f"{_mm(0.6 * thickness)}..{_mm(1.6 * thickness)}"
    else:
        wall["outer_thickness"] = _mm(thickness)
        width, told.unsure["body.gap.width"] = _GAPS[walls]
        body["gap"] = {"kind": walls, "width": width}
    body |= _sizes(told, thickness)
    surface = {"plastic": "plastic", "glass": "glass", "stoneware": "ceramic_glaze"}.get(material)
    bare = "stainless_polished" if told.choice("finish") == "bare" else "powder_coat"
    body["exterior"] = {"surface": surface or bare}
    return body


LEAST_SHOULDER = 0.01
"""By how much a body whose width is not known is wider than its mouth at least [m]; judgement."""


def _sizes(told: _Told, thickness: float) -> dict[str, Any]:
    sizes: dict[str, Any] = _lengthwise(told)
    if told.choice("shape") == "neck":
        mouth, outside = told.metres("mouth"), told.metres("outside")
        walls, side = told.choice("walls"), thickness
        if walls != "single":
            side = 2.0 * thickness + parse_quantity(_GAPS[walls][0], Dimension.LENGTH)
        sizes["outside_diameter"] = told.size("outside", "body.outside_diameter")
        if not told.is_known("outside") and outside < mouth + 2.0 * side + LEAST_SHOULDER:
            outside = mouth + 2.0 * side + 2.0 * LEAST_SHOULDER
            sizes["outside_diameter"] = _mm(outside)
            told.unsure["body.outside_diameter"] = f"{_mm(outside - LEAST_SHOULDER)}..{_mm(1.15 * outside)}"
        sizes["neck"] = {
            "mouth_diameter": told.size("mouth", "body.neck.mouth_diameter"),
            "length": told.size("neck", "body.neck.length"),
            # A shoulder of 45 degrees; nobody measures it.
            "shoulder_height": _mm(max(0.5 * (outside - mouth) - side, 0.0)),
        }
        return sizes
    sizes["inside_diameter"] = told.size("mouth", "body.inside_diameter")
    if told.is_known("outside") and told.is_known("mouth"):
        sizes |= _side(told, thickness)
    return sizes


def _side(told: _Told, thickness: float) -> dict[str, Any]:
    """Return what follows where inside and outside of a straight body are known: gap or wall, and the foot."""
    mouth, outside = told.metres("mouth"), told.metres("outside")
    side = 0.5 * (outside - mouth)
    if side <= 0.0:
        message = f"the mouth, {told.read['mouth']} inside, must be narrower than the outside"
        raise InputError(message, "outside", told.read["outside"])
    sizes: dict[str, Any] = {}
    if told.choice("walls") == "single":
        told.unsure.pop("body.wall.inner_thickness", None)
        sizes["wall"] = {
            "kind": "single",
            "material": MATERIALS[told.choice("material")],
            "inner_thickness": _mm(side),
        }
    else:
        if side <= 2.0 * thickness + 0.0005:
            message = "leaves no room for two walls around the mouth; is one of the two widths wrong?"
            raise InputError(message, "outside", told.read["outside"])
        told.unsure.pop("body.gap.width", None)
        sizes["gap"] = {"kind": told.choice("walls"), "width": _mm(side - 2.0 * thickness)}
    if told.is_known("foot"):
        foot = told.metres("foot") - 2.0 * side
        if foot <= 0.0:
            raise InputError("leaves no room inside at the foot", "foot", told.read["foot"])
        sizes["inside_base_diameter"] = _mm(foot)
    return sizes


def _lengthwise(told: _Told) -> dict[str, Any]:
    """Return capacity and depth, whichever are known, else the height."""
    known = {
        path: told.read[key]
        for key, path in (("capacity", "capacity"), ("depth", "inside_depth"))
        if told.is_known(key)
    }
    return known or {"outside_height": told.size("height", "body.outside_height")}


def _lid(told: _Told) -> dict[str, Any]:
    lid: dict[str, Any] = {"layers": _layers(told)}
    plug = told.choice("plug")
    if plug != "none":
        lid["plug"] = {
            "kind": plug,
            "depth": told.size("plug_depth", "lid.plug.depth"),
            "clearance": told.size("clearance", "lid.plug.clearance"),
        }
    count = int(told.choice("seals"))
    if count:
        lid["seals"] = [{"depth": depth} for depth in _seal_depths(told, count, has_plug=plug != "none")]
    hole = told.choice("hole")
    if hole != "none":
        diameter = told.size("hole_diameter", "lid.openings.0.diameter")
        kind = "straw_hole" if hole == "straw" else "spout"
        lid["openings"] = [{"kind": kind, "diameter": diameter, "closed": hole == "closed_spout"}]
    return lid


SHEET = 0.0025
"""Thickness of a hollow lid's plastic [m]; common practice, no source."""


def _layers(told: _Told) -> list[dict[str, Any]]:
    kind, height = told.choice("lid"), told.metres("lid_height")
    is_known = told.is_known("lid_height")
    low, _, high = QUESTION["lid_height"].span.partition("..")
    if kind == "solid" or height <= 2.0 * SHEET + 0.001:
        if not is_known:
            told.unsure["lid.layers.0.thickness"] = f"{low}..{high}"
        return [{"kind": "solid", "thickness": _mm(height)}]
    if not is_known:
        told.unsure["lid.layers.1.depth"] = "3..25 mm"
    sheet = {"kind": "solid", "thickness": _mm(SHEET)}
    pocket: dict[str, Any] = {"kind": "pocket", "depth": _mm(height - 2.0 * SHEET)}
    if kind == "foam":
        pocket["filling"] = "foam"
    return [sheet, pocket, dict(sheet)]


def _seal_depths(told: _Told, count: int, *, has_plug: bool) -> list[str]:
    if not has_plug:
        return ["0 mm"]
    if told.is_known("seal_depths"):
        depths = [part.strip() for part in told.read["seal_depths"].split(",")]
        if len(depths) != count:
            message = (
                f"gives {len(depths)} depth{'s' * (len(depths) > 1)} for {count} ring{'s' * (count > 1)}; give {count}"
            )
            raise InputError(message, "seal_depths", told.read["seal_depths"])
        return depths
    deepest = max(told.metres("plug_depth") - 0.004, 0.002)
    first = "3 mm" if deepest > 0.005 else _mm(0.5 * deepest)
    return [first, _mm(deepest)][:count]


def _mm(metres: float) -> str:
    return format_quantity(metres, "mm", 5)


QUESTION = {question.key: question for question in QUESTIONS}
"""Questions by key."""


def design_text(answers: Answers, name: str) -> str:
    """Return the text of a design file that answers describe, with a word on what was not known.

    Raises
    ------
    InputError
        As `container_of`.
    """
    import tomlkit

    container_of(answers, name)
    document = design_document(answers, name)
    unsure = document.pop("unsure", {})
    text = tomlkit.dumps(document)
    head = "# Made from answers; every size can be changed here. See: holdtime designs schema\n"
    if not unsure:
        return f"{head}{text}"
    ranges = tomlkit.dumps({"unsure": unsure})
    note = "\n# Not measured: the range each may lie in. Measure it, put the value above, and take the line out.\n"
    return f"{head}{text}{note}{ranges}\n".replace("\n\n\n", "\n\n")
