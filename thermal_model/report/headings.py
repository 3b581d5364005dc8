"""Words over and under a picture."""

from thermal_model.study.question import Question
from thermal_model.version import version


def title_of(question: Question, what: str) -> str:
    """Return the container's name and what the picture shows.

    Parameters
    ----------
    question : Question
    what : str
        Begins in lower case.
    """
    return f"{question.container.called}: {what}"


def sample_words(draws: int, seed: int, within: str = "bars") -> str:
    """Return what a picture's intervals rest on, and where they are seen."""
    return f"{draws} samples, seed {seed}; nine in ten within the {within}" if draws else "best guess"


def made_by(*parts: str) -> str:
    """Return what made a picture, in a line."""
    return "; ".join(part for part in (*parts, f"holdtime {version()}") if part)
