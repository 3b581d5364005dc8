"""What one session of the page holds in memory; all else is in the folder."""

from pathlib import Path

from thermal_model.workbench.guard import Keys
from thermal_model.workbench.jobs import Jobs
from thermal_model.workbench.live import Latest
from thermal_model.workbench.place import Place


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

    def __init__(self, folder: Path, keys: Keys, *, cookie_name: str, phone: str) -> None:
        self.place = Place(folder)
        self.keys = keys
        self.cookie_name = cookie_name
        self.phone = phone
        self.latest = Latest()
        self.jobs = Jobs()
        self.saved: set[tuple[str, str]] = set()
