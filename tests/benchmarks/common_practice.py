"""Print what common practice says beside what the model says: `python -m tests.benchmarks.common_practice`."""

from collections.abc import Iterator

import numpy as np

from tests.published import common_practice_cases as practice
from tests.published import jis_s2006_cases as jis

ZERO_CELSIUS = 273.15


def _hours(times: object) -> str:
    return " ".join(f"{time / practice.HOUR:.2f}" for time in np.atleast_1d(np.asarray(times, dtype=float)))


def mouth_lines() -> Iterator[str]:
    for case in practice.mouth_sweeps():
        widths = " ".join(f"{1e3 * mouth:.0f}" for mouth in case.mouths)
        yield f"{case.design.name}, {1e6 * case.fill:.0f} mL: mouths {widths} mm, {_hours(case.hold_times)} h"


def thin_lid_lines() -> Iterator[str]:
    for case in practice.thin_lids():
        paths = f"lid {1e3 * case.lid:.1f}, neck {1e3 * case.neck:.1f}, wall {1e3 * case.wall:.1f} mW/K"
        yield f"{case.design.name}, {case.thickness}: {paths}, ratio {(case.lid + case.neck) / case.wall:.2f}"


def second_seal_lines() -> Iterator[str]:
    for label, unknowns in (("model", practice.AS_ASSUMED), ("smooth annulus", practice.SMOOTH_ANNULUS)):
        for case in practice.lid_change_cases(unknowns):
            seal, other = case.gain(practice.SECOND_SEAL), case.gain(case.best_other)
            place = f"{1e3 * case.depth:.0f} mm down, clearance {1e3 * case.clearance:.0f} mm"
            verdict = "" if seal > other else "  NOT FOLLOWED"
            yield f"{label}, {case.design.name}, {place}: {seal:+.1%}, then {case.best_other} {other:+.1%}{verdict}"


def plug_lines() -> Iterator[str]:
    for case in practice.plug_kinds():
        kept = f"open plug keeps {case.kept(case.open_plug):.0%}, insert {case.kept(case.insert):.0%}"
        times = _hours([case.no_plug, case.open_plug, case.insert, case.sealed_twice])
        name = f"{case.design.name}, clearance {1e3 * case.clearance:.1f} mm"
        yield f"{name}: none, open, insert, two seals {times} h; {kept}"


def third_layer_lines() -> Iterator[str]:
    for case in practice.third_layers():
        shield, plug = case.shield / case.plain - 1.0, case.plug / case.plain - 1.0
        yield f"{case.design.name}: shield {shield:+.1%}, plug with two seals {plug:+.1%}"


def size_lines() -> Iterator[str]:
    for case in practice.sizes():
        verdict = "" if np.all(np.diff(case.same_fill) < 0.0) else "  NOT FOLLOWED"
        yield f"{case.design.name}: same fill {_hours(case.same_fill)} h, own {_hours(case.own_fill)} h{verdict}"
    for design, times in practice.fill_sweeps():
        yield f"{design.name}: a fifth full to full {_hours(times)} h"


def neck_lines() -> Iterator[str]:
    for case in practice.neck_lengths():
        gains = f"disc {case.disc:+.1%}, one seal {case.one_seal:+.1%}, lower seal {case.lower_seal:+.1%}"
        yield f"{case.design.name}: neck of 75 in place of 30 mm, {gains}"


def preheat_lines() -> Iterator[str]:
    for case in practice.wall_starts():
        yield f"{case.design.name}: cold walls shorten by {case.shortening:.1%}"
    for six in practice.six_hours():
        ends = f"{six.cold - ZERO_CELSIUS:.1f} C cold, {six.preheated - six.cold:+.2f} K preheated 5 min"
        yield f"{six.design.name}, {six.share:.0%} full, 95 C, 6 h: {ends}"


def hot_and_cold_lines() -> Iterator[str]:
    for case in practice.hot_and_cold():
        yield f"{case.design.name}: two seals, loose foam insert: hot {_hours(case.hot)} h, cold {_hours(case.cold)} h"
    for head in practice.headspace_conductances():
        films = f"still {head.hot_still:.0f}, turning over {head.hot:.0f}, dry {head.hot_dry:.1f}, cold {head.cold:.1f}"
        yield f"headspace {1e3 * head.depth:.0f} mm: {films} W/m2K"


def jis_lines() -> Iterator[str]:
    classes = jis.jis_classes()
    for walls in jis.WALLS:
        middle = jis.after_six_hours([c.middle for c in classes], walls)
        hardest = jis.after_six_hours([c.hardest for c in classes], walls)
        for row, *ends in zip(classes, middle, hardest, strict=True):
            over = " and ".join(f"{end - row.minimum:+.1f} K" for end in ends)
            least = f"{row.minimum - ZERO_CELSIUS:.0f} C"
            yield f"{row.name}, walls {walls}: least {least}; middle of the class and hardest corner {over}"


STATEMENTS = {
    "Hold time falls as the mouth widens": mouth_lines,
    "Under a plain thin lid, lid and neck lose more than the wall": thin_lid_lines,
    "A second seal 25 to 50 mm down the neck beats every other change of the lid": second_seal_lines,
    "An open plug gives most of that away, a loose insert keeps part": plug_lines,
    "A third layer moves less than the lid": third_layer_lines,
    "Filled alike, a big container looks worse": size_lines,
    "A longer neck does not help while vapour heats it, a lower seal does": neck_lines,
    "Cold walls shorten by 4 to 12 %, a preheated vessel ends warmer": preheat_lines,
    "A hot ranking need not carry over to cold": hot_and_cold_lines,
    "JIS S 2006 (second-hand): least temperature after six hours": jis_lines,
}


def main() -> None:
    """Print every statement with its figures."""
    for statement, lines in STATEMENTS.items():
        print(f"\n{statement}" + ("" if lines is jis_lines else f" ({practice.STATUS})"))
        for line in lines():
            print(f"  {line}")


if __name__ == "__main__":
    main()
