"""Laws that take the place of the model's while a block lasts."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar

from thermal_model.solver import laws
from thermal_model.solver.laws import CONDUCTION, Law

REPLACEABLE: dict[str, Law] = {
    law.name: law for law in vars(laws).values() if isinstance(law, Law) and law is not CONDUCTION
}
"""Laws that may be replaced, by name: all but a constant conductance."""

_IN_FORCE: ContextVar[Mapping[str, Law] | None] = ContextVar("own_laws", default=None)


def in_force(law: Law) -> Law:
    """Return what takes the place of a law, or the law itself."""
    own = _IN_FORCE.get()
    return own.get(law.name, law) if own else law


def are_own() -> bool:
    """Tell whether any law is replaced: the compiled kernel knows those of the model alone."""
    return bool(_IN_FORCE.get())


@contextmanager
def own_laws(found: Mapping[str, Law]) -> Iterator[None]:
    """Replace laws, by name, within the block, for this thread or task."""
    token = _IN_FORCE.set(found)
    try:
        yield
    finally:
        _IN_FORCE.reset(token)
