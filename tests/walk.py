"""Which functions of the packages a piece of work calls, in the order of their first calls."""

import sys
import threading
from collections.abc import Callable
from types import CodeType, FrameType
from typing import Any

PACKAGES = ("geometries", "thermal_model")


def functions_called(work: Callable[[], object]) -> list[str]:
    """Return full names, module and qualified name, of this and other threads."""
    seen: dict[CodeType, str] = {}

    def note(frame: FrameType, event: str, _: Any) -> None:
        if event == "call" and frame.f_code not in seen:
            module = str(frame.f_globals.get("__name__", ""))
            if module.partition(".")[0] in PACKAGES:
                seen[frame.f_code] = f"{module}.{frame.f_code.co_qualname}"

    threading.setprofile(note)
    sys.setprofile(note)
    try:
        work()
    finally:
        sys.setprofile(None)
        threading.setprofile(None)
    return list(seen.values())
