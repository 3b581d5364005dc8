"""`holdtime explain`: why one container holds longer than another, part by part."""

from thermal_model.cli.explain_all import run_all
from thermal_model.cli.explain_common import Asked
from thermal_model.cli.explain_conditions import run_story
from thermal_model.cli.explain_pair import run_pair
from thermal_model.cli.record import command

EXAMPLE = "holdtime explain slim_neck_double_seal single_seal_plug --fill 500mL --until 60C"


@command(Asked, EXAMPLE)
def explain(asked: Asked) -> None:
    """Tell why one container holds longer than another, part by part."""
    if asked.all_:
        run_all(asked)
    elif asked.is_story:
        run_story(asked)
    else:
        run_pair(asked)
