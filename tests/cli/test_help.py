"""Help pages: each has an example, and the example runs."""

import re
import shlex
import subprocess
import sys
from importlib.metadata import version

import pytest

from tests.cli.conftest import Command
from thermal_model.cli.main import TableOfContents

COMMANDS = [
    ("compare",),
    ("check",),
    ("plan", "run"),
    ("plan", "soak"),
    ("plan", "repeats"),
    ("plan", "schedule"),
    ("plan", "next"),
    ("predict",),
    ("carry",),
    ("explain",),
    ("sweep",),
    ("designs", "list"),
    ("designs", "show"),
    ("designs", "copy"),
    ("designs", "schema"),
    ("screen",),
    ("optimise",),
    ("sensitivity",),
    ("unknowns",),
]


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_example_of_the_help_page_runs(holdtime: Command, command: tuple[str, ...]) -> None:
    text = holdtime(*command, "--help").stdout
    found = re.search(r"Example: (holdtime .*?)\n\s*\n", text, flags=re.S)
    assert found, text
    example = shlex.split(found.group(1))[1:]
    assert tuple(example[: len(command)]) == command
    result = holdtime(*example)
    assert result.exit_code == 0, result.output


def test_first_help_page_lists_every_command(holdtime: Command) -> None:
    result = holdtime("--help")
    assert result.exit_code == 0
    for command in COMMANDS:
        assert re.search(rf"^  {command[0]} ", result.stdout, flags=re.M)
    assert holdtime("-h").stdout == result.stdout


def test_version(holdtime: Command) -> None:
    result = holdtime("--version")
    assert (result.exit_code, result.stdout) == (0, f"holdtime {version('holdtime')}\n")


def test_help_imports_nothing_slow() -> None:
    """`holdtime --help` answers at once since nothing slow is imported for it."""
    slow = ("numpy", "scipy", "pydantic", "matplotlib", "CoolProp", "pint", "tomlkit", "thermal_model.prediction")
    code = f"import sys, thermal_model.cli.main; print([name for name in {slow!r} if name in sys.modules])"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert loaded.stdout == "[]\n"


def test_commands_import_nothing_that_only_some_of_them_need() -> None:
    """A command is imported for its help page too; pictures, samples and compilers wait until they are asked for."""
    # A calibration is a fit, a plan a distribution: these always need SciPy.
    modules = [
        f"thermal_model.cli.{name}" for name in TableOfContents.modules if name not in ("calibrate", "validate", "plan")
    ]
    slow = ("scipy", "matplotlib", "CoolProp", "pint", "numba", "xarray", "SALib", "distributed", "rich.progress")
    code = (
        "import sys, importlib\n"
        f"for module in {modules!r}: importlib.import_module(module)\n"
        f"print([name for name in {slow!r} if name in sys.modules])"
    )
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert loaded.stdout == "[]\n"
