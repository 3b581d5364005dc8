"""One comparison of a figure of ours with a printed one, shared by the tests and the printed table."""

import csv
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

DATA = Path(__file__).parent


@dataclass(frozen=True)
class Check:
    """A figure of ours beside the printed one.

    It must agree within the rounding of the printed digits, or within `within` if a reason says why it can't.
    """

    name: str
    ours: float
    printed: str
    status: str
    within: float = 0.0
    reason: str = ""

    def __post_init__(self) -> None:
        if self.within and not self.reason:
            raise ValueError(f"{self.name}: a wider tolerance needs its reason")

    @property
    def published(self) -> float:
        return float(self.printed)

    @property
    def rounding(self) -> float:
        """Half a unit of the last printed digit."""
        return 0.5 * 10.0 ** int(Decimal(self.printed).as_tuple().exponent)

    @property
    def relative_difference(self) -> float:
        return self.ours / self.published - 1.0

    @property
    def agrees(self) -> bool:
        allowed = max(self.rounding * (1.0 + 1e-9), self.within * abs(self.published))
        return abs(self.ours - self.published) <= allowed

    def __str__(self) -> str:
        return f"{self.name}: ours {self.ours:.5g}, printed {self.printed} ({self.status})"


def read_rows(name: str) -> list[dict[str, str]]:
    """Rows of a data file of this folder, in file order."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
