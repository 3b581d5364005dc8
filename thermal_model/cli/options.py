"""Options that commands share, by the name of what they give."""

from pathlib import Path
from typing import Annotated

import typer

Design = Annotated[
    str, typer.Argument(metavar="DESIGN", help="A design file (TOML), or a name from: holdtime designs list")
]
Bench = Annotated[Path, typer.Argument(metavar="BENCH", help="A bench folder: holdtime bench new makes one.")]
Fill = Annotated[
    str | None,
    typer.Option("--fill", metavar="VOLUME", help="Poured in, '500mL'; left out: full but for some air, --air."),
]
Air = Annotated[str | None, typer.Option("--air", metavar="DEPTH", help="Air under the lid when full; left out: 5 mm.")]
Start = Annotated[
    str | None, typer.Option("--start", metavar="TEMP", help="Of the contents, '90C', '194F'; left out: 90 C.")
]
Until = Annotated[
    tuple[str, ...],
    typer.Option("--until", metavar="TEMP", help="Limit temperature; repeatable; left out: 60 C, cold contents 10 C."),
]
OneUntil = Annotated[
    str | None, typer.Option("--until", metavar="TEMP", help="Limit temperature; left out: 60 C, cold contents 10 C.")
]
Room = Annotated[str | None, typer.Option("--room", metavar="TEMP", help="Room temperature; left out: 20 C.")]
RoomFile = Annotated[
    Path | None,
    typer.Option("--room-file", metavar="CSV", help="Room over time: columns 'time [min]', 'temperature [C]'."),
]
RoomSteps = Annotated[
    bool, typer.Option("--room-steps", help="The room holds each temperature until the next, instead of sloping.")
]
Contents = Annotated[
    str | None,
    typer.Option("--contents", metavar="KIND", help="water, tea, coffee, broth, milk, ...; left out: water."),
]
Ice = Annotated[str | None, typer.Option("--ice", metavar="MASS", help="Ice at 0 C added, '150g'.")]
Walls = Annotated[
    str | None,
    typer.Option("--walls", metavar="STATE", help="'room': walls start at room temperature; or 'preheated'."),
]
Preheat = Annotated[
    str | None, typer.Option("--preheat", metavar="TEXT", help="'5 min at 95 C', then emptied and refilled.")
]
Wind = Annotated[str | None, typer.Option("--wind", metavar="SPEED", help="'3 m/s', '10 kn'.")]
Draught = Annotated[
    str | None,
    typer.Option("--draught", metavar="SPEED", help="Of the room's air; left out: 0.06 m/s; still: '0 m/s'."),
]
Sunlight = Annotated[str | None, typer.Option("--sunlight", metavar="W/m2", help="On the container, '800 W/m2'.")]
Humidity = Annotated[str | None, typer.Option("--humidity", metavar="%", help="Of the room's air, '50 %'.")]
StandsOn = Annotated[
    str | None,
    typer.Option("--stands-on", metavar="SURFACE", help="wood, steel, stone, glass, plastic, cork, nothing."),
]
Inverted = Annotated[bool, typer.Option("--inverted", help="The container stands upside down.")]
Open = Annotated[
    tuple[str, ...],
    typer.Option("--open", metavar="TEXT", help="'at 2h for 20s pour 100mL every 30min'; repeatable."),
]
Pin = Annotated[
    tuple[str, ...],
    typer.Option(
        "--pin",
        metavar="NAME=VALUE",
        help="Expert: a constant in place of a formula, gap_conductance='0.1 W/m2K'; repeatable.",
    ),
]
Set = Annotated[
    tuple[str, ...],
    typer.Option("--set", metavar="PATH=VALUE", help="Any field: body.neck.mouth_diameter='45 mm'; repeatable."),
]
ScenarioFile = Annotated[
    Path | None, typer.Option("--scenario", metavar="TOML", help="A file with scenario fields; options win over it.")
]
Draws = Annotated[int, typer.Option("--draws", min=0, max=100_000, help="Size of the sample for the interval.")]
Seed = Annotated[int, typer.Option("--seed", min=0, help="The same seed gives the same sample.")]
NoInterval = Annotated[bool, typer.Option("--no-interval", help="Best guess only: quicker.")]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else.")]
Output = Annotated[Path | None, typer.Option("--output", metavar="FILE", help="Write the JSON object to a file.")]
