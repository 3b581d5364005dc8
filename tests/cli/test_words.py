"""Words: what a tester reads, from every command, holds no term of statistics or heat transfer that has a plain word.

JSON keeps them, and so does `--expert`.
"""

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.cli.conftest import run
from tests.cli.test_calibrate import BENCH_FILE, READINGS
from thermal_model.bench.calibration.calibration import _unsettled
from thermal_model.bench.calibration.coordinates import Coordinate, Owner
from thermal_model.bench.calibration.sampling import Sampled
from thermal_model.cli.main import TableOfContents, app
from thermal_model.report.calibration_text import sample_expert_text, sample_text

EXPERT_WORDS = re.compile(
    r"(?i:\b(posteriors?|priors?|draws|films?|correlations?|likelihood|laplace|bayes\w*|emissivit\w+|"
    r"standard deviations?|degrees of freedom|(two-sided )?t tests?|effective size|r-hat|significance|divergences?|"
    r"nusselt|rayleigh|prandtl|grashof|reynolds|churchill|hollands|lewis|sherman|stefan)\b)|[\u0370-\u03ff]"
)
"""Greek letters included; µ of micro is none of them."""

CUP = ("--fill", "200mL")
FEW = ("--draws", "6")
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("predict", "slim_neck_double_seal", *FEW, "--explain", "--fill", "500mL", "--plot", "p.svg"),
    ("predict", "slim_neck_double_seal", *FEW, "--explain", "--ice", "300g", "--start", "4C", "--plot", "p.svg"),
    ("predict", "stoneware_cup", "--no-interval", "--explain", "--start", "70C", "--room", "65C", "--until", "58C"),
    ("predict", "handled_tumbler_straw", *FEW, "--explain", "--contents", "milk"),
    ("carry", "stoneware_cup", *CUP, *FEW, "--to", "tea_at_the_counter", "--plot", "p.svg"),
    ("carry", "--list"),
    ("check", "stoneware_cup", *CUP, "--claim", "hot for 9 min", "--above", "60C", "--start", "85C", "--room", "20C"),
    ("check", "slim_neck_double_seal", "--standard", "jis-s-2006", "--vessel", "stoppered", "--draws", "20"),
    ("check", "stoneware_cup", "--standard", "food-holding", "--start", "85C", "--room", "20C", "--draws", "20"),
    ("check", "thin_disc_lid", "--claim", "hot for 3 h", "--above", "70C", "--readings", "bench", "--run", "hot-1"),
    ("compare", "single_wall_steel", "stoneware_cup", *CUP, *FEW, "--plot", "p.svg"),
    ("compare", "bench", "--no-interval", "--until", "70C", "--plot", "p.svg"),
    ("explain", "single_wall_steel", "stoneware_cup", *CUP, *FEW, "--plot", "p.svg"),
    ("explain", "thin_disc_lid", "three_layer_wall", "--no-interval"),
    ("explain", "single_wall_steel", "--against-fill", "half", "--plot", "p.svg"),
    ("explain", "single_wall_steel", "stoneware_cup", "thin_disc_lid", "air_gap_mug", "--all", *CUP, "--plot", "p.svg"),
    ("bench", "check", "bench"),
    ("bench", "reduce", "bench", "--until", "70C", "--plot", "p.svg"),
    ("calibrate", "bench", "--output", "cal.json", "--plot", "p.svg"),
    ("predict", "thin_disc_lid", *FEW, "--calibration", "cal.json"),
    ("validate", "bench"),
    ("plan", "run", "stoneware_cup", *CUP, *FEW),
    ("plan", "soak", "single_wall_steel"),
    ("plan", "repeats", "--difference", "5%", "--repeatability", "3%"),
    ("plan", "schedule", "--count", "4", "--probes", "2", "--per-day", "2"),
    ("plan", "next", "stoneware_cup", *CUP, "--until", "60C"),
    ("sweep", "single_wall_steel", *CUP, "--vary", "body.inside_depth=90..120 mm:3", "--plot", "p.svg"),
    ("sensitivity", "single_wall_steel", *CUP, "--over", "both", "--plot", "p.svg"),
    ("screen", "single_wall_steel", *CUP, "--vary", "body.inside_depth=90..120 mm:2", *FEW, "--plot", "p.svg"),
    ("screen", "single_wall_steel", *CUP, "--find", "body.inside_depth=90..120 mm", "--hold", "30 min", *FEW),
    (
        *("optimise", "single_wall_steel", *CUP, "--vary", "body.inside_depth=90..120 mm", "--best", "hold"),
        *("--best", "mass", "--tries", "10", "--count", "3", "--plot", "p.svg"),
    ),
    (
        "optimise",
        "single_wall_steel",
        *CUP,
        "--vary",
        "body.inside_depth=90..120 mm",
        "--at-most",
        "mass=190g",
        "--tries",
        "10",
    ),
    ("designs", "list"),
    ("designs", "show", "slim_neck_double_seal"),
    ("unknowns",),
    ("redraw", "cup.json", "--plot", "p.svg"),
    ("bundle", "bench", "--no-cold", "--until", "70C", "--draws", "20", "--output", "packed"),
    ("reproduce", "packed"),
)
FIRST: dict[str, tuple[str, ...]] = {
    "cal.json": ("calibrate", "bench"),
    "cup.json": ("predict", "stoneware_cup", *CUP, "--no-interval"),
    "packed": ("bundle", "bench", "--no-cold", "--until", "70C", "--draws", "20"),
}
"""What makes a file that a command above reads."""

WITHOUT_TEXT = {"new", "open", "report"}
"""These ask, and write design files; the pages' own texts are read by `tests/thermal_model/workbench/test_words.py` and
`tests/browser/test_page.py`."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a small bench of runs that say something."""
    folder = tmp_path_factory.mktemp("words")
    bench = folder / "bench"
    bench.mkdir()
    (bench / "bench.toml").write_text(BENCH_FILE, encoding="utf-8")
    runs = "".join(f"{run},thin_disc_lid,log,500,90,20\n" for run in READINGS)
    (bench / "runs.csv").write_text(f"run,container,probe,fill [mL],poured at [C],room [C]\n{runs}", encoding="utf-8")
    rows = "".join(f"{run},{t},{c}\n" for run, pairs in READINGS.items() for t, c in pairs)
    (bench / "readings.csv").write_text(f"run,time [min],temperature [C]\n{rows}", encoding="utf-8")
    return folder


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every text of every picture that is written."""
    from matplotlib.figure import Figure
    from matplotlib.text import Text

    texts: list[str] = []
    write = Figure.savefig

    def savefig(figure: Figure, *places: Any, **options: Any) -> None:
        texts.extend(text.get_text() for text in figure.findobj(Text))
        write(figure, *places, **options)

    monkeypatch.setattr(Figure, "savefig", savefig)
    return texts


def found_in(text: str) -> list[str]:
    """Expert words with what stands around them; options may be called what they are called."""
    plain = re.sub(r"--[\w-]+", "", text)
    return [plain[max(m.start() - 40, 0) : m.end() + 20] for m in EXPERT_WORDS.finditer(plain)]


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_what_a_tester_reads(
    folder: Path, monkeypatch: pytest.MonkeyPatch, drawn: list[str], command: tuple[str, ...]
) -> None:
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "100")
    for needed in FIRST.keys() & {*command[1:]}:
        if "--output" not in command and not Path(needed).exists():
            assert run(*FIRST[needed], "--output", needed).exit_code == 0
    for output in ("p.svg", *(("cal.json",) if command[0] == "calibrate" else ())):
        Path(output).unlink(missing_ok=True)
    result = run(*command)
    assert result.exit_code == 0, result.output
    assert found_in(result.output) == []
    assert found_in("\n".join(drawn)) == []
    assert bool(drawn) == ("--plot" in command)


def sampled(settled: bool) -> Sampled:
    unsettled = () if settled else (Coordinate(Owner.CONTAINER, "cup", "gap_emissivity"),)
    return Sampled(
        np.zeros((400, 7)), np.zeros((400, 2), dtype=int), 1.21, 37.0, unsettled, (), 5 - 5 * settled, 0.07, 1
    )


@pytest.mark.parametrize("settled", [False, True])
def test_what_a_sample_says(settled: bool) -> None:
    text = sample_text(sampled(settled))
    assert found_in(text) == []
    assert ("the chains agree." in text) == settled
    assert ("the chains do not agree well enough on 1 of 7 unknowns" in " ".join(text.split())) != settled
    assert found_in(_unsettled(sampled(settled))) == []
    said = " ".join(sample_expert_text(sampled(settled)).split())
    assert "largest R-hat 1.210, smallest bulk effective size 37, " in said


def subcommands(name: str) -> list[tuple[str, ...]]:
    import typer.main

    group = typer.main.get_command(app)
    command = group.get_command(typer.Context(group), name)  # type: ignore[attr-defined]
    return [(name, sub) for sub in command.commands] if hasattr(command, "commands") else [(name,)]


@pytest.mark.parametrize("command", [c for name in TableOfContents.modules for c in subcommands(name)], ids=" ".join)
def test_help_pages(monkeypatch: pytest.MonkeyPatch, command: tuple[str, ...]) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    assert found_in(run(*command, "--help").output) == []


def test_every_command_is_read() -> None:
    assert {command[0] for command in COMMANDS} == set(TableOfContents.modules) - WITHOUT_TEXT


def test_the_pattern_finds_what_it_is_for() -> None:
    assert len(found_in("R-hat 1.2, effective size 3; a standard deviation; two-sided t test")) == 4
    said = "100 draws; film; prior; rank correlation; posterior; Nusselt; ε; emissivities"
    assert len(found_in(said)) == 8
    assert found_in("Draw a picture; --draws 5; exterior_film; 5 \u00b5m; priority") == []


def test_experts_get_their_terms(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    text = run("predict", "slim_neck_double_seal", "--fill", "500mL", *FEW, "--expert").output
    assert "6 draws from the priors" in text
    assert "correlation beyond its range: rayleigh" in text
