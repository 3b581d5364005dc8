"""Why two runs of one container end at different temperatures: the accounts side by side, in words, and as JSON."""

import math
from collections.abc import Sequence
from typing import Any

from thermal_model.prediction import Prediction
from thermal_model.reasons.loss_story import HeatAccount, LossStory, lumped_end
from thermal_model.report.results import path_label, warning_lines
from thermal_model.report.summary import caution_lines, given_pair
from thermal_model.version import version
from thermal_model.words.documents import entries
from thermal_model.words.numbers import Scale, aligned, duration_text, percent, ratio_text
from thermal_model.words.paragraphs import in_blocks, listed, wrapped

LEAST_PATH = 5e-4
"""Heat loss coefficient from which a path gets its line. [W K-1]"""

LEAST_TOLD = 0.05
"""Share of the difference from which a cause gets a sentence. [K]"""


def story_text(
    story: LossStory,
    predictions: tuple[Prediction, Prediction],
    assumed: tuple[frozenset[str], frozenset[str]],
    scale: Scale,
) -> str:
    """Return both accounts side by side, what makes the difference, and how to check it.

    Parameters
    ----------
    story : LossStory
    predictions : pair of Prediction
        Of A and B, for what was given and for cautions.
    assumed : pair of frozenset of str
        Inputs of A and of B that were not given.
    scale : Scale
        Of the temperatures shown.
    """
    blocks = [
        given_pair(predictions, assumed, scale),
        _accounts(story, scale),
        _causes(story),
        _check(story, scale),
        caution_lines(max(predictions, key=lambda p: float(p.scenario.start))),
    ]
    return in_blocks(blocks)


def _accounts(story: LossStory, scale: Scale) -> str:
    first, second = _facts(story.first, scale), _facts(story.second, scale)
    rows = [(what, first[what], second[what]) for what in first]
    return aligned([("", "A", "B"), *rows, *_path_rows(story)])


def _facts(account: HeatAccount, scale: Scale) -> dict[str, str]:
    return {
        "filled": f"{account.fill * 1e6:.0f} mL",
        "heat it holds for each degree": f"{account.heat_capacity / 1e3:.2f} kJ/K",
        f"after {duration_text(account.duration)}": _end_text(account, scale),
        "heat the contents gave": _kilojoules(account.given),
        "  that stayed in walls and lid": _kilojoules(account.to_walls),
        "  that the room got": _kilojoules(account.to_room),
        "heat passed for each degree": _milliwatts(account.heat_loss_coefficient),
    }


def _end_text(account: HeatAccount, scale: Scale) -> str:
    end = scale.text(account.end, 3)
    if math.isnan(account.end_low):
        return end
    return f"{end} ({scale.number(account.end_low):.0f} to {scale.number(account.end_high):.0f})"


def _kilojoules(joules: float) -> str:
    return f"{joules / 1e3:.1f} kJ".replace("-", "−")


def _milliwatts(watts: float) -> str:
    return f"{watts * 1e3:.1f} mW/K"


def _path_rows(story: LossStory) -> list[tuple[str, str, str]]:
    first, second = story.first.heat_paths, story.second.heat_paths
    order = sorted(first, key=lambda path: -abs(first[path]))
    return [
        (f"  {path_label(path, story.container)}", _milliwatts(first[path]), _milliwatts(second[path]))
        for path in order
        if max(abs(first[path]), abs(second[path])) >= LEAST_PATH
    ]


# --- causes ---------------------------------------------------------------------------------------------------


def _causes(story: LossStory) -> str:
    first, second = story.first, story.second
    difference = second.end - first.end
    causes = [
        (story.by_heat_capacity, _capacity_words(first, second)),
        (story.by_coefficient, _coefficient_words(story)),
        (story.by_walls, _walls_words(first, second)),
        (story.by_conditions, "start and room are not the same"),
    ]
    told = [(k, words) for k, words in causes if abs(k) >= LEAST_TOLD]
    lines = listed(f"{_degrees(kelvin)}: {words}" for kelvin, words in sorted(told, key=lambda cause: -abs(cause[0])))
    side = "colder" if difference < 0.0 else "warmer"
    heading = f"After {duration_text(first.duration)} B is {abs(difference):.1f} K {side} than A. Of that:"
    return "\n".join([heading, *lines])


def _degrees(kelvin: float) -> str:
    return f"{'−' if kelvin < 0.0 else '+'}{abs(kelvin):.1f} K"


def _capacity_words(first: HeatAccount, second: HeatAccount) -> str:
    ratio = second.heat_capacity / first.heat_capacity
    return (
        f"B's contents hold {percent(ratio)} of the heat for each degree "
        f"({second.heat_capacity / 1e3:.2f} against {first.heat_capacity / 1e3:.2f} kJ/K), so the same heat moves "
        f"them {ratio_text(1.0 / ratio, 'far')} A's"
    )


def _coefficient_words(story: LossStory) -> str:
    first, second = story.first, story.second
    changes = {path: second.heat_paths[path] - first.heat_paths[path] for path in first.heat_paths}
    path = max(changes, key=lambda name: abs(changes[name]))
    more = "more" if second.lumped_coefficient > first.lumped_coefficient else "less"
    ratio = second.heat_loss_coefficient / first.heat_loss_coefficient
    text = (
        f"B passes {more} heat for each degree over the whole time; at rest it is "
        f"{_milliwatts(second.heat_loss_coefficient)} against {_milliwatts(first.heat_loss_coefficient)}"
    )
    if abs(ratio - 1.0) < 0.01:
        return f"{text}, and the rest is that its walls and lid have another history"
    return (
        f"{text}: it does not fall as the fill does, since lid and neck stay; what changes most is "
        f"{path_label(path, story.container)} ({_milliwatts(first.heat_paths[path])} in A, "
        f"{_milliwatts(second.heat_paths[path])} in B)"
    )


def _walls_words(first: HeatAccount, second: HeatAccount) -> str:
    drops = [f"{abs(a.wall_drop):.1f} K" for a in (first, second)]
    verbs = ["took" if a.to_walls >= 0.0 else "gave" for a in (first, second)]
    return (
        f"walls and lid {verbs[0]} {_kilojoules(abs(first.to_walls))} in A, {drops[0]} of its contents, and "
        f"{verbs[1]} {_kilojoules(abs(second.to_walls))} in B, {drops[1]} of its own"
    )


def _check(story: LossStory, scale: Scale) -> str:
    lines = []
    for letter, account in (("A", story.first), ("B", story.second)):
        hours, mean = account.duration / 3600.0, f"{account.mean_difference:.1f} K".replace("-", "−")
        lines.append(
            f"{letter}: {_milliwatts(account.heat_loss_coefficient)} x {mean} on average x "
            f"{hours:g} h = {_kilojoules(account.by_hand)}; the model gives the room {_kilojoules(account.to_room)}."
        )
        end = lumped_end(account, account.heat_capacity, account.heat_loss_coefficient, account.to_walls)
        lines.append(
            f"   Room + (start − room {_degrees(-account.wall_drop)}) x exp(−UA t / C) = {scale.text(end, 3)}; "
            f"the model ends at {scale.text(account.end, 3)}."
        )
    note = (
        "The heat passed for each degree is taken halfway between start and end and grows with temperature, so the "
        "sums by hand differ a little. No published measurement of partial fill or of preheating is known to us that "
        "describes the container well enough to be computed; these figures rest on the model."
    )
    return "\n".join(["Check it by hand", *lines, wrapped(note, hanging="")])


# --- JSON -----------------------------------------------------------------------------------------------------


def story_document(
    story: LossStory,
    predictions: tuple[Prediction, Prediction],
    assumed: Sequence[frozenset[str]],
    draws: int,
    seed: int,
) -> dict[str, Any]:
    """Return the story as a JSON object whose keys carry their units."""
    return {
        "A": _account_document(story.first),
        "B": _account_document(story.second),
        "end_difference_K": story.second.end - story.first.end,
        "shares_K": {
            "heat_capacity_of_contents": story.by_heat_capacity,
            "heat_loss_coefficient": story.by_coefficient,
            "heat_in_walls_and_lid": story.by_walls,
            "start_and_room": story.by_conditions,
        },
        "warnings": list(dict.fromkeys(line for p in predictions for line in warning_lines(p))),
        "inputs": {
            "design": story.container.model_dump(mode="json"),
            "draws": draws,
            "seed": seed,
            "assumed_A": sorted(assumed[0]),
            "assumed_B": sorted(assumed[1]),
        },
        "version": version(),
    }


def _account_document(account: HeatAccount) -> dict[str, Any]:
    return {
        **entries(account, "scenario", "duration_s", "fill_m3", "heat_capacity_J_per_K"),
        **entries(account, "start_K", "end_K", "end_low_K", "end_high_K", "mean_difference_K"),
        "heat_to_walls_and_lid_J": account.to_walls,
        "heat_to_room_J": account.to_room,
        **entries(account, "heat_loss_coefficient_W_per_K", "heat_paths_W_per_K", "lumped_coefficient_W_per_K"),
    }
