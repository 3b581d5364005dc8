"""Design files: containers in TOML, by path or by their name in the catalogue."""

from pathlib import Path

from geometries.container import Container
from geometries.errors import InputError, nearest_hint
from geometries.files import is_there, parse_toml, read_text, write_text
from geometries.materials_file import with_materials_beside
from geometries.validation import validated

_CATALOGUE = Path(__file__).with_name("catalogue")


def catalogue_names() -> list[str]:
    """Return the names of the starter designs, sorted."""
    return sorted(path.stem for path in _CATALOGUE.glob("*.toml"))


def catalogue_path(name: str) -> Path:
    """Return the file of a starter design; copy it to begin one's own."""
    return _CATALOGUE / f"{name}.toml"


def design_path(path_or_name: str | Path) -> Path:
    """Return the file that a path or a catalogue name stands for.

    A file that exists comes first; a bare word is a name of the catalogue.

    Raises
    ------
    InputError
        If a bare word is neither.
    """
    path, name, allowed = Path(path_or_name), str(path_or_name), catalogue_names()
    if name in allowed and not path.is_file():
        return catalogue_path(name)
    if path.suffix or len(path.parts) != 1 or is_there(path):
        return path
    hint = nearest_hint(name, allowed)
    message = f"neither a file nor in the catalogue; {hint}the catalogue has {', '.join(allowed)}"
    raise InputError(message, "design", name)


def load_container(path_or_name: str | Path) -> Container:
    """Read a container from a design file or from the catalogue.

    Raises
    ------
    InputError
        If there is no such file, it is not TOML, or it describes no valid container; every problem is named.
    """
    path = design_path(path_or_name)
    return parse_container(read_text(path), str(path), path.parent)


def parse_container(text: str, source: str = "", folder: Path | None = None) -> Container:
    """Read a container from the text of a design file, and from the file that it takes materials from.

    Parameters
    ----------
    text : str
    source : str
        Named in the messages.
    folder : Path, optional
        Where a file of materials is looked for.

    Raises
    ------
    InputError
        As `load_container`.
    """
    return validated(Container, with_materials_beside(parse_toml(text, source), source, folder), source)


def container_text(container: Container) -> str:
    """Return a container as the text of a design file; it reads back as the same container."""
    import tomlkit

    return tomlkit.dumps(container.model_dump(mode="json", exclude_unset=True))


def save_container(container: Container, path: str | Path) -> None:
    """Write a container to a design file, whole or not at all.

    Raises
    ------
    InputError
        If the file can't be written.
    """
    write_text(Path(path), container_text(container))
