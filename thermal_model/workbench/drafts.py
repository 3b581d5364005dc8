"""What is typed and not saved yet: a file beside the designs for each window, until it is saved or thrown away."""

import json
import re
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from geometries.errors import InputError
from geometries.files import LARGEST, read_text, write_text
from geometries.questions import QUESTION

ENDING = ".draft.json"

LONGEST_ANSWER = 200
"""Of what is kept of an answer [characters]; no size takes more."""

MOST_SHOWN = 50

_NEW = re.compile(r"unsaved_[0-9a-f]{8}")


@dataclass(frozen=True)
class Draft:
    """Answers that were typed.

    Attributes
    ----------
    key : str
        Of the file, without its ending.
    name : str
        Of the design it changes, or what was typed as a name; "" for none yet.
    digest : str
        Of the design as it was when the typing began; "" for a new one.
    answers : mapping of str to str
    text : str or None
        Of the design, where that was typed instead of answers.
    when : str
        Time of the last change, as it is shown.
    """

    key: str
    name: str
    digest: str
    answers: Mapping[str, str]
    text: str | None
    when: str

    @property
    def where(self) -> str:
        """Address at which it is gone on with."""
        return f"/containers/new?draft={self.key}" if is_new(self.key) else f"/containers/{self.key}?draft=1"


def new_key() -> str:
    """Return a key for a container that has no name yet."""
    return f"unsaved_{secrets.token_hex(4)}"


def is_new(key: str) -> bool:
    """Tell whether a draft is of a container that is not in the folder yet."""
    return _NEW.fullmatch(key) is not None


def drafts(folder: Path) -> list[Draft]:
    """Return the drafts of a folder, the latest first; what can't be read is none."""
    paths = sorted(folder.glob(f"*{ENDING}"), key=lambda path: path.lstat().st_mtime, reverse=True)
    found = (draft(folder, path.name.removesuffix(ENDING)) for path in paths[:MOST_SHOWN])
    return [one for one in found if one is not None]


def draft(folder: Path, key: str) -> Draft | None:
    """Return a draft by its key; None if there is none."""
    path = _path(folder, key)
    if path is None or path.is_symlink() or not path.is_file():
        return None
    try:
        document = json.loads(read_text(path))
        answers = {name: str(document["answers"][name]) for name in QUESTION if name in document["answers"]}
        name, digest, text = str(document["name"]), str(document["digest"]), document.get("text")
    except (InputError, ValueError, KeyError, TypeError):
        return None
    when = f"{datetime.fromtimestamp(path.stat().st_mtime):%Y-%m-%d %H:%M}"
    return Draft(key, name, digest, answers, text if isinstance(text, str) else None, when)


def keep_draft(folder: Path, key: str, form: Mapping[str, str]) -> None:
    """Put what is typed on disk, whole or not at all; what is longer than a design can be is not kept.

    Raises
    ------
    InputError
        If the key is none, or the folder can't be written.
    """
    path = _path(folder, key)
    if path is None:
        raise InputError("is no draft of this page", "draft", key)
    if len(form.get("text", "")) > LARGEST // 2:
        return
    document: dict[str, object] = {
        "note": "typed in holdtime open and not saved yet; gone once it is saved or thrown away there",
        "name": form.get("name", "")[:LONGEST_ANSWER] if is_new(key) else key,
        "digest": form.get("digest", "")[:LONGEST_ANSWER],
        "answers": {name: form[name][:LONGEST_ANSWER] for name in QUESTION if form.get(name, "").strip()},
    }
    if "text" in form:
        document["text"] = form["text"].replace("\r\n", "\n")
    write_text(path, json.dumps(document, indent=1) + "\n", is_own=True)


def throw_away(folder: Path, key: str) -> None:
    """Remove a draft, if it is there."""
    path = _path(folder, key)
    if path is not None:
        path.unlink(missing_ok=True)


def _path(folder: Path, key: str) -> Path | None:
    """Return where a draft is kept: of a new container, or of a design that is in the folder."""
    designs = {path.stem for path in folder.glob("*.toml")}
    return folder / f"{key}{ENDING}" if is_new(key) or key in designs else None
