"""The examples in the docstrings of both packages run and give what they say."""

import doctest
import importlib
import pkgutil

import pytest

import geometries
import thermal_model

OPTIONS = doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS


def modules_of(package):
    """Names of a package's modules and those of the packages below it."""
    for entry in pkgutil.iter_modules(package.__path__, f"{package.__name__}."):
        yield entry.name
        if entry.ispkg:
            yield from modules_of(importlib.import_module(entry.name))


MODULES = sorted([*modules_of(geometries), *modules_of(thermal_model)])


@pytest.mark.parametrize("name", MODULES)
def test_examples_of_a_module(name):
    result = doctest.testmod(importlib.import_module(name), optionflags=OPTIONS)
    assert result.failed == 0, f"{result.failed} of {result.attempted} examples failed; see the captured output"


def test_the_walk_finds_both_packages():
    assert "geometries.numeric" in MODULES
    assert "thermal_model.physics.radiation" in MODULES


def test_a_wrong_example_is_noticed(capsys):
    example = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "wrong", None, 0)
    result = doctest.DocTestRunner(verbose=False).run(example)
    assert result.failed == 1
    assert "Got:" in capsys.readouterr().out
