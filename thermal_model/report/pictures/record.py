"""What is to be seen in a picture, as plain data in the units shown: a result file keeps it, and it is drawn from that.

Every record may be read from JSON; nothing in it needs a computation, and none names a colour, only what is meant.
"""

from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

Tone = Literal[
    "hot", "cold", "more", "less", "limit", "plain", "muted",
    "lid", "steel_bridge", "gap_side", "base", "vent",
    "first", "second", "third", "fourth",
]  # fmt: skip
"""What a colour means; `look.Theme.tones` has the colours."""

Text = Annotated[str, StringConstraints(max_length=2000)]
MOST = 200_000
"""Most numbers in a list: more is no picture."""

Number = Annotated[float, Field(ge=-1e12, le=1e12, allow_inf_nan=False)]

Numbers = Annotated[tuple[Number, ...], Field(max_length=MOST)]
Gaps = Annotated[tuple[Number | None, ...], Field(max_length=MOST)]
"""Numbers, None where there is none."""


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Mark(_Record):
    """A value in a row: a dot, or a bar from a base; with an interval; with a text beside the axis.

    Attributes
    ----------
    at : float or None
        None where there is no value; the text says so.
    base : float or None
        Where a bar begins; None for a dot.
    low, high : float or None
        An interval; one without a high end is open.
    text, short : str
        What is written beside the axis, and what is where there is less room; of a row's marks the first that has one.
    is_hollow : bool
        A ring in place of a dot.
    """

    at: Number | None = None
    base: Number | None = None
    low: Number | None = None
    high: Number | None = None
    tone: Tone = "plain"
    text: Text = ""
    short: Text = ""
    is_hollow: bool = False


class Row(_Record):
    """A name with its marks; `tracks` holds a list of marks for each track of the panel.

    Attributes
    ----------
    note : str
        Smaller, under the name.
    is_parted : bool
        Whether a line is drawn above it.
    """

    name: Text
    note: Text = ""
    tracks: tuple[tuple[Mark, ...], ...]
    is_parted: bool = False


def row_of(name: str, *marks: Mark, note: str = "") -> Row:
    """Return a row of a panel with one track."""
    return Row(name=name, note=note, tracks=(marks,))


class Track(_Record):
    """One axis of a panel of rows.

    Attributes
    ----------
    label : str
        Of the axis, with its unit.
    line : float or None
        Where an upright line is drawn.
    low, high : float or None
        Ends of the axis; left out, those of what is drawn, with zero.
    """

    label: Text
    title: Text = ""
    line: Number | None = None
    low: Number | None = None
    high: Number | None = None


class RowsPanel(_Record):
    """Rows under each other, the first on top."""

    kind: Literal["rows"] = "rows"
    title: Text = ""
    tracks: Annotated[tuple[Track, ...], Field(min_length=1, max_length=4)]
    rows: Annotated[tuple[Row, ...], Field(max_length=10_000)]

    @model_validator(mode="after")
    def _check(self) -> Self:
        if any(len(row.tracks) != len(self.tracks) for row in self.rows):
            raise ValueError(f"each row must have marks for {len(self.tracks)} tracks")
        return self


class Line(_Record):
    """A line, or dots, with a band and a name at its end; one that is wide is an interval, pale and thick."""

    x: Numbers
    y: Gaps
    low: Gaps = ()
    high: Gaps = ()
    tone: Tone = "plain"
    text: Text = ""
    is_dashed: bool = False
    has_line: bool = True
    has_dots: bool = False
    is_hollow: bool = False
    is_wide: bool = False

    @model_validator(mode="after")
    def _check(self) -> Self:
        if len(self.y) != len(self.x) or any(len(band) not in (0, len(self.x)) for band in (self.low, self.high)):
            raise ValueError("x, y, low and high must be of one length")
        return self


class LimitLine(_Record):
    """A limit across a panel, with what is known of where it is crossed, and a name at its end."""

    y: Number
    text: Text = ""
    at: Number | None = None
    low: Number | None = None
    high: Number | None = None


class Dot(_Record):
    """A single point."""

    x: Number
    y: Number
    tone: Tone = "limit"


class Curves(_Record):
    """Lines over a common axis.

    Attributes
    ----------
    note : str
        Under the title, of a small panel only.
    ticks : tuple of str
        Names in place of numbers 0, 1, ... along x.
    key : tuple of pair of str
        Tone and words, over the panel, for what has no place for a name.
    starts_at_zero : bool
        Whether x begins at zero.
    y_span : pair of float, optional
        Ends of y, where panels share them; left out, those of what is drawn.
    """

    kind: Literal["curves"] = "curves"
    title: Text = ""
    note: Text = ""
    x_label: Text = ""
    y_label: Text = ""
    lines: Annotated[tuple[Line, ...], Field(max_length=1000)]
    levels: Annotated[tuple[LimitLine, ...], Field(max_length=1000)] = ()
    dots: Annotated[tuple[Dot, ...], Field(max_length=1000)] = ()
    ticks: tuple[Text, ...] = ()
    key: tuple[tuple[Tone, Text], ...] = ()
    starts_at_zero: bool = False
    y_span: tuple[Number, Number] | None = None


class Grid(_Record):
    """Small panels of one kind with common axes."""

    kind: Literal["grid"] = "grid"
    title: Text = ""
    x_label: Text = ""
    y_label: Text = ""
    cells: Annotated[tuple[Curves, ...], Field(min_length=1, max_length=1000)]


class Map(_Record):
    """Values over two numbers; None where there is none."""

    kind: Literal["map"] = "map"
    title: Text = ""
    x_label: Text = ""
    y_label: Text = ""
    value_label: Text = ""
    x: Numbers
    y: Numbers
    values: Annotated[tuple[Gaps, ...], Field(max_length=MOST)]
    note: Text = ""

    @model_validator(mode="after")
    def _check(self) -> Self:
        if min(len(self.x), len(self.y)) < 2:
            raise ValueError("a map needs two numbers at least along each side")
        if len(self.values) != len(self.y) or any(len(row) != len(self.x) for row in self.values):
            raise ValueError("values must be a row for each y, a number for each x")
        return self


Panel = Annotated[RowsPanel | Curves | Grid | Map, Field(discriminator="kind")]


class Picture(_Record):
    """A picture.

    Attributes
    ----------
    subject : str
        For the file's own title.
    title, given, made_by : str
        Over the picture; under it in smaller letters; at its foot.
    panels : tuple of Panel
        Side by side or under each other, as the shape has room.
    shares : tuple of float
        Of the room, for each panel; empty for equal ones.
    """

    subject: Text
    title: Text
    given: Text = ""
    made_by: Text = ""
    panels: Annotated[tuple[Panel, ...], Field(min_length=1, max_length=12)]
    shares: tuple[Number, ...] = ()

    def document(self) -> dict[str, Any]:
        """Return it for a JSON object, without what is left at its default."""
        found: dict[str, Any] = self.model_dump(mode="json", exclude_defaults=True)
        panels = zip(self.panels, found["panels"], strict=True)
        return found | {"panels": [{"kind": panel.kind, **shown} for panel, shown in panels]}
