"""The solver is compiled before the tests begin, so that every test process, and every command it starts, finds it."""

import pytest

from thermal_model.solver.compiled.machine_code import kernel


@pytest.hookimpl(tryfirst=True)
def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile once, in the process that starts the others: one that begins before steps plainly to its end."""
    if not hasattr(session.config, "workerinput") and not session.config.option.collectonly:
        kernel()
