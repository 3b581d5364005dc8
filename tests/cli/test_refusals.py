"""Bad input: one plain line a problem, with the place, the value and what is allowed; exit code 2."""

import os
from pathlib import Path

import pytest

from tests.cli.conftest import Command, refused

DESIGN = "slim_neck_double_seal"

# Arguments after `predict DESIGN`, and what the one line has to say.
OPTIONS: list[tuple[list[str], list[str]]] = [
    (["--fill", "48"], ["--fill: '48' has no unit", "'473 mL'"]),
    (["--fill", "5 kg"], ["--fill: '5 kg' is not a volume", "kg is a mass"]),
    (["--fill", "16 oz"], ["--fill: '16 oz'", "'16 floz'"]),
    (["--fill", "0,5 L"], ["--fill: '0,5 L' has a comma", "decimal point"]),
    (["--fill", "5 L"], ["--fill: 5000 mL is beyond the brim", "at most 709.7 mL"]),
    (["--fill", "680 mL"], ["--fill: 680 mL does not fit under the lid", "at most"]),
    (["--fill", "0 mL"], ["--fill: must be above zero"]),
    (["--fill", "-3 mL"], ["--fill: '-3 mL'", "at least zero"]),
    (["--fill", "100 mL", "--ice", "5 kg", "--start", "4 C"], ["--fill: ", "beyond the brim"]),
    (["--ice", "5 kg", "--start", "4 C"], ["--ice: fills the container"]),
    (["--ice", "50"], ["--ice: '50' has no unit", "g'"]),
    (["--start", "90 mm"], ["--start: '90 mm' is not a temperature", "use C, F, K"]),
    (["--start", "-300 C"], ["--start: '-300 C' is below absolute zero"]),
    (["--start", "nan C"], ["--start: 'nan C' does not start with a number"]),
    (["--start", "150 C"], ["--start: 150.0 C is outside the liquid range of water", "0.0 to 100.0 C"]),
    (["--start", "20 C"], ["--until: give a limit between start and room"]),
    (["--start", "150 F", "--until", "70 degC"], ["--until: 70.0 C can't be reached", "do not warm"]),
    (["--until", "90 C"], ["--until: 90.0 C is the start temperature itself"]),
    (["--until", "95 C"], ["--until: 95.0 C can't be reached", "between start and room"]),
    (["--until", "10 C"], ["--until: 10.0 C lies below the room, 20.0 C"]),
    (["--start", "4 C", "--until", "25 C"], ["--until: 25.0 C lies above the room, 20.0 C"]),
    (["--until", "60"], ["--until: '60' has no unit"]),
    (["--room", "warm"], ["--room: 'warm' does not start with a number", "'74 C'"]),
    (["--contents", "teaa"], ["--contents: unknown contents 'teaa'", "did you mean 'tea'?", "broth"]),
    (["--contents", "milk", "--ice", "50 g", "--start", "4C"], ["--ice: is only modelled in water"]),
    (["--ice", "150 g", "--start", "20C", "--room", "26C", "--until", "10C"], ["--until: ", "once mixed"]),
    (["--walls", "hot"], ["--walls: 'hot': must be 'room' or 'preheated'"]),
    (["--walls", "preheated", "--preheat", "5 min at 95 C"], ["--preheat: ", "not both"]),
    (["--preheat", "5 min"], ["--preheat: '5 min' is not understood", "'5 min at 95 C'"]),
    (["--preheat", "5 min at 95"], ["--preheat: temperature: '95' has no unit"]),
    (["--wind", "-3 m/s"], ["--wind: '-3 m/s'", "at least zero"]),
    (["--wind", "300 m/s"], ["--wind: '300 m/s'", "at most 100 m/s"]),
    (["--sunlight", "1e5 W/m2"], ["--sunlight: '1e5 W/m2'", "at most 2000 W/m2"]),
    (["--room", "0 K"], ["--room: '0 K' is not allowed", "at least 233.15 K and at most 373.15 K"]),
    (["--draws", "many"], ["--draws: 'many' is not allowed; it must be a whole number, at least 0 and at most 100000"]),
    (["--draws", "-1"], ["--draws: '-1' is not allowed; it must be a whole number, at least 0"]),
    (["--seed", "-1"], ["--seed: '-1' is not allowed; it must be a whole number, at least 0"]),
    (["--humidity", "150 %"], ["--humidity: '150 %'", "at most"]),
    (["--sunlight", "800 W"], ["--sunlight: '800 W' is not an irradiance"]),
    (["--stands-on", "woood"], ["--stands-on: unknown surface 'woood'", "did you mean 'wood'?", "cork"]),
    (["--open", "soon"], ["--open: 'soon' is not understood", "at 2h for 20s pour 100mL every 30min"]),
    (["--open", "for 20s"], ["--open: 'for 20s' is not understood"]),
    (["--open", "at 2h at 3h"], ["--open: 'at 2h at 3h' is not understood"]),
    (["--open", "at 2h pour 5 kg"], ["--open: pour: '5 kg' is not a volume"]),
    (["--open", "at 1h pour 5 L"], ["openings: after 5000 mL poured nothing is left"]),
    (["--pin", "exterior_film"], ["--pin: 'exterior_film' is not understood", "name=value"]),
    (["--pin", "exterior_film=10"], ["--pin exterior_film: '10' has no unit"]),
    (["--pin", "exterior_fim=10 W/m2K"], ["--pin exterior_fim: unknown key", "did you mean 'exterior_film'?"]),
    (["--set", "mouth"], ["--set: 'mouth' is not understood", "name=value"]),
    (["--set", "bdy.gap.width=4 mm"], ["--set: bdy.gap.width: unknown path", "did you mean 'body'?"]),
    (["--set", "body.nek.length=4 mm"], ["--set: body.nek: unknown key", "did you mean 'neck'?"]),
    (["--set", "body.neck.mouth_diameter=-4 mm"], ["body.neck.mouth_diameter: '-4 mm'", "above zero"]),
    (["--set", "body.neck.mouth_diameter=90 mm"], ["body.neck.mouth_diameter: 90 mm is wider than the body"]),
    (["--set", "scenario.wnd=3 m/s"], ["--set scenario.wnd: unknown key", "did you mean 'wind'?"]),
    (["--scenario", "none.toml"], ["none.toml: there is no such file"]),
    (["--room-file", "none.csv"], ["none.csv: there is no such file"]),
    (["--room-steps"], ["--room-steps: goes with --room-file only"]),
    (["--plot", "curve.jpeg"], ["curve.jpeg: can't draw a '.jpeg' file", ".png, .svg, .pdf"]),
    (["--plot", "curve"], ["curve: can't draw a 'nameless' file", ".png"]),
    (["--csv", "nowhere/curve.csv"], ["nowhere/curve.csv: there is no folder", "make it first"]),
    (["--output", "."], [".: is a folder"]),
    (["--drws", "3"], ["No such option: --drws", "--draws", "holdtime predict --help"]),
]


@pytest.mark.parametrize(("options", "fragments"), OPTIONS, ids=lambda value: " ".join(value)[:40])
def test_option(holdtime: Command, options: list[str], fragments: list[str]) -> None:
    lines = refused(holdtime("predict", DESIGN, *_joined(options)), *fragments)
    assert len(lines) == 1


def _joined(options: list[str]) -> list[str]:
    """A value that begins with a dash is joined to its option by an equals sign, as a shell user has to."""
    if len(options) == 2 and options[1].startswith("-"):
        return ["=".join(options)]
    return options


def test_every_problem_is_told_at_once(holdtime: Command) -> None:
    result = holdtime(
        "predict", "nowhere.toml", "--fill", "5 kg", "--start", "90", "--until", "hot", "--plot", "curve.bmp"
    )
    assert len(refused(result, "nowhere.toml", "--fill", "--start", "--until", "curve.bmp")) == 5


# --- files ----------------------------------------------------------------------------------------------------

DESIGN_FILES: list[tuple[bytes, str]] = [
    (b"", "design.toml: is empty"),
    (bytes(range(256)) * 8, "design.toml: is not UTF-8 text (line"),
    (b'name = "x', "design.toml: is not valid TOML"),
    (
        b"a = " + b"[" * 20_000 + b"]" * 20_000,
        "design.toml: its brackets are nested too deeply",
    ),
    (b"a = " + b"[" * 5_000_000 + b"]" * 5_000_000, "design.toml: is larger than 1 MB"),
    (b'name = "x"\n', "design.toml: body: is missing"),
]


@pytest.mark.parametrize(("content", "message"), DESIGN_FILES, ids=lambda value: str(value)[:30])
def test_design_file(holdtime: Command, content: bytes, message: str) -> None:
    Path("design.toml").write_bytes(content)
    refused(holdtime("predict", "design.toml"), message)


def test_design_that_is_not_there(holdtime: Command) -> None:
    Path("folder").mkdir()
    refused(holdtime("predict", "mine.toml"), "mine.toml: there is no such file")
    refused(holdtime("predict", "folder"), "folder: is a folder")
    refused(holdtime("predict", "slim_neck_duble_seal"), "did you mean 'slim_neck_double_seal'?")
    refused(holdtime("predict", ""), "design: is empty")
    refused(holdtime("predict"), "Missing argument 'DESIGN'", "holdtime predict --help")


def test_unknown_key_in_a_design(holdtime: Command) -> None:
    holdtime("designs", "copy", DESIGN, "mine.toml")
    text = Path("mine.toml").read_text(encoding="utf-8").replace("inside_depth", "inside_dept")
    Path("mine.toml").write_text(text, encoding="utf-8")
    refused(holdtime("predict", "mine.toml"), "mine.toml: body.inside_dept: unknown key", "'inside_depth'")


SCENARIO_FILES = [
    ('strt = "3 C"\n', ["room.toml: strt: unknown key; did you mean 'start'?"]),
    ('start = "90"\nwind = "5 kg"\n', ["room.toml: start: '90' has no unit", "room.toml: wind: '5 kg' is not a speed"]),
    ("start = \n", ["room.toml: is not valid TOML"]),
]


@pytest.mark.parametrize(("text", "fragments"), SCENARIO_FILES)
def test_scenario_file(holdtime: Command, text: str, fragments: list[str]) -> None:
    Path("room.toml").write_text(text, encoding="utf-8")
    assert len(refused(holdtime("predict", DESIGN, "--scenario", "room.toml"), *fragments)) == len(fragments)


ROOM_FILES = [
    (b"time [min],temperature [C]\n0,20\n10,x\n", ["room.csv: line 3, temperature: 'x C'"]),
    (b"time [min],temperature [C]\n0,20,5\n", ["room.csv: line 2: has 3 cells", "decimal comma"]),
    (b"time [min],temperature [C]\n0,\n", ["room.csv: line 2, temperature: is empty"]),
    (b"time [min],temprature [C]\n0,20\n", ["room.csv: line 1: no column 'temperature'; did you mean 'temprature'?"]),
    (b"time,temperature [C]\n0,20\n", ["room.csv: line 1: column 'time' has no unit"]),
    (b"time [C],temperature [C]\n0,20\n", ["room.csv: line 1: unit [C]", "is not a duration"]),
    (b"time [min],temperature [C]\n", ["room.csv: has headings but no rows"]),
    (b"time [min],temperature [C]\n0,20\n0,21\n", ["room.csv: the times of a room profile must rise"]),
    (b"time [min],temperature [\xb0C]\n0,20\n", ["room.csv: is not UTF-8 text (line 1)"]),
    (b"time [min],temperature [C]\n0,-400\n", ["room.csv: line 2, temperature", "below absolute zero"]),
]


@pytest.mark.parametrize(("content", "fragments"), ROOM_FILES, ids=lambda value: str(value)[:40])
def test_room_file(holdtime: Command, content: bytes, fragments: list[str]) -> None:
    Path("room.csv").write_bytes(content)
    refused(holdtime("predict", DESIGN, "--room-file", "room.csv"), *fragments)


def test_room_twice(holdtime: Command) -> None:
    Path("room.csv").write_text("time [min],temperature [C]\n0,20\n", encoding="utf-8")
    refused(holdtime("predict", DESIGN, "--room-file", "room.csv", "--room", "20 C"), "not both")


def test_output_that_can_not_be_written_leaves_the_old_file(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    Path("curve.csv").write_text("old", encoding="utf-8")
    monkeypatch.setattr(os, "replace", full)
    result = holdtime("predict", DESIGN, "--no-interval", "--csv", "curve.csv", "--force")
    refused(result, "curve.csv: can't be written: No space left on device")
    assert [path.name for path in Path().iterdir()] == ["curve.csv"]
    assert Path("curve.csv").read_text(encoding="utf-8") == "old"


# --- the command line itself ----------------------------------------------------------------------------------


def test_unknown_command_and_option(holdtime: Command) -> None:
    refused(holdtime("predikt"), "No such command 'predikt'", "holdtime --help")
    refused(holdtime("--verbose"), "No such option: --verbose")


@pytest.mark.parametrize("arguments", [(), ("designs",)])
def test_no_command_shows_the_help(holdtime: Command, arguments: tuple[str, ...]) -> None:
    result = holdtime(*arguments)
    assert result.exit_code == 2
    assert "Commands:" in result.stderr
    assert result.stdout == ""


def test_internal_error_is_one_line(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("thermal_model.cli.predict.predicted", _broken)
    result = holdtime("predict", DESIGN)
    assert result.exit_code == 1
    assert result.stderr == "holdtime: internal error: ZeroDivisionError: a slip, please report with --debug\n"


def test_debug_shows_the_traceback(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("thermal_model.cli.predict.predicted", _broken)
    assert isinstance(holdtime("predict", DESIGN, "--debug").exception, ZeroDivisionError)
    assert isinstance(holdtime("--debug", "predict", DESIGN).exception, ZeroDivisionError)
    refused(holdtime("predict", DESIGN, "--fill", "48", "--debug"), "--fill: '48' has no unit")


def _broken(*_: object, **__: object) -> None:
    raise ZeroDivisionError("a slip")


def test_interrupt_is_one_line(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("thermal_model.cli.predict.predicted", interrupted)
    result = holdtime("predict", DESIGN, "--csv", "curve.csv")
    assert result.exit_code == 130
    assert result.stderr == "holdtime: interrupted; nothing more was written\n"
    assert not Path("curve.csv").exists()


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (("-o", "page.txt"), "a page ends in .html"),
        (("-o", "page.html", "--until", "warm"), "--until"),
        (("-o", "page.html", "--cold-start", "3 kg"), "--cold-start"),
        (("-o", "page.html", "--room", "500 C"), "room"),
    ],
)
def test_a_page_is_refused_before_any_work(holdtime: Command, given: tuple[str, ...], says: str) -> None:
    holdtime("bench", "demo", "bench")
    refused(holdtime("report", "bench", *given), says)
    assert not Path("page.html").exists()


@pytest.mark.parametrize(
    ("command", "given", "line"),
    [
        ("sweep", ("--fill", "200 mL", "--vary", "scenario.fill=100,200 mL"), "--fill: scenario.fill: is varied by"),
        ("screen", ("--room", "20C", "--vary", "scenario.room=10..20 C"), "--room: scenario.room: is varied by --vary"),
        (
            "screen",
            ("--fill", "200 mL", "--find", "scenario.fill=100..200 mL", "--hold", "1h"),
            "--fill: scenario.fill",
        ),
        ("optimise", ("--start", "90C", "--vary", "scenario.start=80..95 C"), "--start: scenario.start: is varied"),
        (
            "sensitivity",
            ("--global", "--wind", "1 m/s", "--vary", "scenario.wind=0..5 m/s"),
            "--wind: scenario.wind: is varied",
        ),
        (
            "sweep",
            ("--pin", "exterior_film=9 W/m2K", "--vary", "scenario.pins.exterior_film=8,9 W/m2K"),
            "--pin exterior_film: scenario.pins.exterior_film: is varied by --vary",
        ),
    ],
)
def test_what_is_varied_is_not_given_too(holdtime: Command, command: str, given: tuple[str, ...], line: str) -> None:
    assert len(refused(holdtime(command, "stoneware_cup", *given), line)) == 1
