"""What one session of the page holds in memory; all else is in the folder."""

from dataclasses import dataclass, field

from thermal_model.workbench.guard import Keys
from thermal_model.workbench.jobs import Jobs
from thermal_model.workbench.live import Latest
from thermal_model.workbench.place import Place


@dataclass(frozen=True)
class State:
    """A session.

    Attributes
    ----------
    place : Place
    keys : Keys
    cookie_name : str
    phone : str
        Address on the local network, "" if nothing listens there.
    latest : Latest
    jobs : Jobs
    saved : set of (str, str)
        Key and digest of drafts that were saved: what was typed before and comes in late is not kept again.
    """

    place: Place
    keys: Keys
    cookie_name: str
    phone: str
    latest: Latest = field(default_factory=Latest)
    jobs: Jobs = field(default_factory=Jobs)
    saved: set[tuple[str, str]] = field(default_factory=set)
