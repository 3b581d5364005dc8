"""What the engine has answered in a search so far, kept on the disk: an unfinished search asks the same once more."""

import hashlib
import io
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from geometries.numeric import Array
from thermal_model.solver.scatter import Indices
from thermal_model.study.journal import Journal
from thermal_model.study.question import Question


@dataclass
class Answers:
    """Hold times that were asked for, by a digest of the question.

    Attributes
    ----------
    journal : Journal
        Where they are kept; of the same inputs.
    known : int
        Questions that were answered by an earlier run.
    """

    journal: Journal
    known: int = field(init=False)

    def __post_init__(self) -> None:
        self.known = sum(1 for _ in self.journal.folder.glob("*.npy"))

    def get(self, key: str) -> Array | None:
        """Return an answer, None if the question is new or the answer can't be read."""
        try:
            return np.asarray(np.load(self.journal.folder / f"{key}.npy", allow_pickle=False))
        except (OSError, ValueError, EOFError):
            return None

    def put(self, key: str, times: Array) -> None:
        """Keep an answer, whole or not at all.

        Raises
        ------
        InputError
            If it can't be written; what was kept before stays.
        """
        data = io.BytesIO()
        np.save(data, times, allow_pickle=False)
        self.journal.put(f"{key}.npy", data.getvalue())


def key_of(
    question: Question, columns: Mapping[str, Array], count: int, family: Indices | None, pieces: tuple[object, ...]
) -> str:
    """Return a digest of all that decides an answer."""
    digest = hashlib.sha256()
    for text in (question.container.model_dump_json(), question.scenario.model_dump_json(), repr(pieces), str(count)):
        digest.update(text.encode() + b"\0")
    for path, column in columns.items():
        digest.update(path.encode() + b"\0" + np.ascontiguousarray(column).tobytes())
    if family is not None:
        digest.update(np.ascontiguousarray(family, dtype=np.int64).tobytes())
    return digest.hexdigest()
