"""A bench's own file, made or extended from what somebody chose on the page; comments in it stay."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geometries.files import new_folder, read_text, write_text
from thermal_model.bench.columns import File
from thermal_model.bench.write.descriptor import write_descriptor
from thermal_model.bench.write.template import write_template


def make_bench(folder: Path, containers: Mapping[str, str], probes: Mapping[str, Mapping[str, str]]) -> None:
    """Make a bench folder, whole or not at all.

    Parameters
    ----------
    folder : Path
        That is not there yet, or is empty.
    containers : mapping of str to str
        Design file, relative to the bench, by name.
    probes : mapping of str to mapping
        Fields of each thermometer, as text with its unit.

    Raises
    ------
    InputError
        If the folder is there, or can't be made.
    """
    with new_folder(folder) as growing:
        write_template(growing, folder.name)
        text = read_text(growing / File.BENCH)
        write_text(growing / File.BENCH, _with_entries(text, containers, probes, is_new=True))


def add_to_bench(folder: Path, containers: Mapping[str, str], probes: Mapping[str, Mapping[str, str]]) -> None:
    """Add containers and thermometers to a bench's file.

    Raises
    ------
    InputError
        If it can't be read or written.
    """
    path = folder / File.BENCH
    write_text(path, _with_entries(read_text(path), containers, probes, is_new=False))
    write_descriptor(folder)


def copy_with_designs(folder: Path, target: Path) -> None:
    """Copy a bench with the designs it names elsewhere put beside its own file, so that nothing it needs is left out.

    Parameters
    ----------
    folder : Path
    target : Path
        That is not there yet.
    """
    import shutil

    import tomlkit

    shutil.copytree(folder, target)
    document: Any = tomlkit.parse(read_text(folder / File.BENCH))
    for name, entry in document["containers"].items():
        design = folder / str(entry["design"])
        if design.is_file() and not design.resolve().is_relative_to(folder.resolve()):
            shutil.copyfile(design, target / f"{name}.toml")
            entry["design"] = f"{name}.toml"
    write_text(target / File.BENCH, tomlkit.dumps(document))


def _with_entries(
    text: str, containers: Mapping[str, str], probes: Mapping[str, Mapping[str, str]], *, is_new: bool
) -> str:
    import tomlkit

    document = tomlkit.parse(text)
    _fill(document, "probes", probes, is_new)
    _fill(document, "containers", {name: {"design": design} for name, design in containers.items()}, is_new)
    return tomlkit.dumps(document)


def _fill(document: Any, table: str, entries: Mapping[str, Mapping[str, str]], is_new: bool) -> None:
    import tomlkit

    if not entries:
        return
    if is_new:  # the template's own entries are examples
        document[table] = tomlkit.table(is_super_table=True)
    for name, fields in entries.items():
        entry = tomlkit.table()
        entry.update(fields)
        document[table][name] = entry
