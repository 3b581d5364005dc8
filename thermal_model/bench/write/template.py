"""An empty bench folder to fill in: every file with its columns explained."""

from pathlib import Path

from geometries.files import write_text
from thermal_model.bench.columns import File
from thermal_model.bench.write.descriptor import write_descriptor
from thermal_model.bench.write.tables import commented_table_text

_ABOUT = {
    File.RUNS: "A filling a row. Columns may be left out or left empty unless needed; units may be changed here: [F].",
    File.READINGS: "A reading a row, or a start and an end. Times: [min], [h], [h:mm], [min:sec], or moments: [date].\n"
    "# A cell may carry its own unit, 191 F. A log of one run may stand beside this file as RUN.csv, without the run.",
    File.PASSINGS: "A mark that a display passed: between two looks, or at a time read off a video.",
    File.ROOM: "Only if the room was logged: its temperature over time, run by run.",
    File.PROBE_CHECKS: "Thermometers side by side in one cup of water, or in ice water (ice_water, 0 C).",
}

BENCH_TEXT = """\
# What is on the bench. Lengths, volumes and temperatures carry their unit, in quotes.
name = "{name}"
# dates = "day/month"  # or "month/day"; only for dates like 03/04/2026; 2026-04-03 needs nothing

[spreads]  # how well things are known (standard deviations), unless a row says otherwise
poured_at = "0.5 C"
room = "1 C"
fill = "2 %"          # a measuring jug; "0.3 %" if you weigh it
time = "10 s"
video_step = "5 s"    # how exactly a passing is read off a video

# A table for each thermometer; its name goes into the column 'probe'.
[probes.pen]
resolution = "0.1 C"      # step of its display, "1 F" if it jumps by a degree Fahrenheit
offset_spread = "0.5 C"   # what it may be wrong by; make it small only after checking it
noise = "0.1 C"
# unit = "F"              # if its numbers are not in the unit of the headings

# A table for each container; its name goes into the column 'container'.
[containers.my_bottle]
design = "slim_neck_double_seal"   # a name from: holdtime designs list, or your own design file beside this one
# settings = {{ "body.neck.mouth_diameter" = "44.5 mm" }}   # what differs in this piece

# Holds for every run, as in a scenario file.
# [scenario]
# stands_on = "wood"
# relative_humidity = 0.5
"""


def write_template(folder: Path, name: str = "") -> None:
    """Write an empty bench into a folder that exists.

    Parameters
    ----------
    folder : Path
    name : str
        Of the bench; "" for the folder's.

    Raises
    ------
    InputError
        If a file can't be written.
    """
    name = name or folder.resolve().name
    write_text(folder / File.BENCH, BENCH_TEXT.format(name=name.replace('"', "").replace("\\", "")))
    for file, about in _ABOUT.items():
        write_text(folder / file, commented_table_text(file, about))
    write_descriptor(folder)
