"""Several benches as one: what they share is shared, what is a bench's own stays its own.

A container of one name and one design is one container wherever it stood. A thermometer belongs to its bench, and so
does a run: of a name that several have, each is told with its bench.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from geometries.container import Container
from geometries.errors import InputError, InputProblem, refuse
from thermal_model.bench.read.bench_file import ICE_WATER
from thermal_model.bench.records import Bench, ProbeCheck, Run


def told_apart(benches: Sequence[Bench]) -> tuple[Bench, ...]:
    """Return the benches with thermometers and runs of which no two have one name.

    Parameters
    ----------
    benches : sequence of Bench

    Raises
    ------
    InputError
        If two benches have one name, or a container's name stands for two designs.
    """
    repeated = [name for name, count in Counter(bench.name for bench in benches).items() if count > 1]
    if repeated:
        message = "is the name of two benches; give one another name in its bench.toml, at the top"
        raise InputError(message, "name", repeated[0])
    all_containers(benches)
    # Ice water is no thermometer: it is as cold on every bench.
    probes = _in_several(bench.probes for bench in benches) - {ICE_WATER}
    runs = _in_several([run.name for run in bench.runs] for bench in benches)
    return tuple(_renamed(bench, probes, runs) for bench in benches)


def joined(benches: Sequence[Bench]) -> Bench:
    """Return one bench of several that `told_apart` has told apart."""
    probes = {name: probe for bench in benches for name, probe in bench.probes.items()}
    return Bench(
        name=" and ".join(bench.name for bench in benches),
        containers=all_containers(benches),
        probes=probes,
        runs=tuple(run for bench in benches for run in bench.runs),
        checks=tuple(check for bench in benches for check in bench.checks),
        assumptions=tuple(f"{bench.name}: {line}" for bench in benches for line in bench.assumptions),
        warnings=tuple(f"{bench.name}: {line}" for bench in benches for line in bench.warnings),
    )


def all_containers(benches: Sequence[Bench]) -> dict[str, Container]:
    """Return the containers of all benches by name, each once.

    Raises
    ------
    InputError
        If a name stands for two designs: it is not known which of them is meant.
    """
    found: dict[str, tuple[str, Container]] = {}
    problems = []
    for bench in benches:
        for name, container in bench.containers.items():
            first, known = found.setdefault(name, (bench.name, container))
            if known != container:
                message = f"is one design on {first} and another on {bench.name}; give one of them another name there"
                problems.append(InputProblem(message, "container", name))
    refuse(problems)
    return {name: container for name, (_, container) in found.items()}


def _in_several(lists: Iterable[Iterable[str]]) -> set[str]:
    return {name for name, count in Counter(name for names in lists for name in set(names)).items() if count > 1}


def _renamed(bench: Bench, probes: set[str], runs: set[str]) -> Bench:
    """Return a bench whose thermometers and runs of these names bear its own name too."""

    def of(name: str, among: set[str]) -> str:
        return f"{name} ({bench.name})" if name in among else name

    def run_of(run: Run) -> Run:
        return replace(
            run,
            name=of(run.name, runs),
            probe=of(run.probe, probes),
            readings=tuple(replace(one, probe=of(one.probe, probes)) for one in run.readings),
            passings=tuple(replace(one, probe=of(one.probe, probes)) for one in run.passings),
        )

    def check_of(check: ProbeCheck) -> ProbeCheck:
        return replace(check, first=of(check.first, probes), second=of(check.second, probes))

    renamed = {of(name, probes): replace(probe, name=of(name, probes)) for name, probe in bench.probes.items()}
    return replace(
        bench,
        probes=renamed,
        runs=tuple(run_of(run) for run in bench.runs),
        checks=tuple(check_of(check) for check in bench.checks),
    )
