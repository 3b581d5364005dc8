"""What a sound model shows without being told: every statement is common practice, no source.

Each is put to every design of the catalogue that it is about. Where the model does not follow, the case is marked
as a failure with its figures, and the criterion stays. `python -m tests.benchmarks.common_practice` prints all figures.
"""

import numpy as np
import pytest

from tests.published.common_practice_cases import (
    SECOND_SEAL,
    SMOOTH_ANNULUS,
    fill_sweeps,
    headspace_conductances,
    hot_and_cold,
    lid_change_cases,
    mouth_sweeps,
    neck_lengths,
    plug_kinds,
    six_hours,
    sizes,
    thin_lids,
    third_layers,
    wall_starts,
)


def test_hold_time_falls_at_every_step_as_the_mouth_widens():
    """Common practice, no source. Same body, same fill, 10 % short of what fits under the narrowest lid.

    Filled until the contents touch lid and neck, the two narrowest mouths (24 and 30 mm) change places by 1 to 3 %:
    then the contents heat the lid themselves, without a headspace between.
    """
    assert len(mouth_sweeps()) == 16
    for sweep in mouth_sweeps():
        assert len(sweep.mouths) >= 6, sweep.design.name
        assert np.all(np.diff(sweep.hold_times) < 0.0), (sweep.design.name, sweep.hold_times)


def test_under_a_plain_thin_lid_lid_and_neck_lose_more_than_the_wall():
    """Common practice, no source: a disc of 2 to 3 mm on every body with a vacuum."""
    for case in thin_lids():
        assert case.lid + case.neck > case.wall, case


def test_a_second_seal_beats_every_other_change_of_the_lid():
    """Common practice, no source: 25 and 50 mm down the neck, thread clearance 2 and 3 mm, all necked vacuum bodies.

    No independent check: the stirring of the annulus was chosen with this statement in view.
    """
    cases = list(lid_change_cases())
    assert len(cases) == 32
    for case in cases:
        assert case.gain(SECOND_SEAL) > case.gain(case.best_other) > 0.0, case


def test_a_second_seal_beats_every_other_change_without_stirring_if_the_thread_is_wide():
    """Common practice, no source. The annulus as a smooth slot, nothing chosen, clearance 3 mm."""
    cases = [c for c in lid_change_cases(SMOOTH_ANNULUS) if c.clearance > 0.0025]
    assert len(cases) == 16
    for case in cases:
        assert case.gain(SECOND_SEAL) > case.gain(case.best_other), case


@pytest.mark.xfail(
    raises=AssertionError,
    reason="smooth slot, clearance 2 mm: the second seal gains 2 to 13 %, foam in the plug 6 to 25 %",
)
def test_a_second_seal_beats_every_other_change_without_stirring_if_the_thread_is_tight():
    """Common practice, no source. What the statement rests on: the stirring of the annulus, a judgement."""
    for case in lid_change_cases(SMOOTH_ANNULUS):
        assert case.clearance > 0.0025 or case.gain(SECOND_SEAL) > case.gain(case.best_other), case


def test_an_open_plug_gives_most_of_the_gain_away_and_a_loose_insert_keeps_part():
    """Common practice, no source: gain of a closed plug sealed twice over no plug, same cap, same clearance."""
    for case in plug_kinds():
        assert case.sealed_twice > case.no_plug, case
        assert case.kept(case.open_plug) < 0.5, case
        assert case.kept(case.open_plug) < case.kept(case.insert) < 1.0, case
        assert case.kept(case.insert) > 0.1, case


def test_a_third_layer_in_the_wall_moves_less_than_the_lid_does():
    """Common practice, no source. Criterion: a copper foil in the wall under a plain disc gains less than a plug with
    two seals on the wall as it is."""
    for case in third_layers():
        assert case.plain < case.shield < case.plug, case


def test_a_container_with_less_in_it_holds_shorter():
    """Common practice, no source: every design from a fifth full to full, each step."""
    for design, times in fill_sweeps():
        assert np.all(np.diff(times) > 0.0), (design.name, times)


def test_a_bigger_container_of_the_same_build_holds_longer_if_filled():
    """Common practice, no source: the body scaled by up to 1.5, neck and lid the same."""
    for case in sizes():
        assert np.all(np.diff(case.own_fill) > 0.0), case
        assert np.all(case.same_fill < case.own_fill + 1e-6), case


def test_a_bigger_container_with_a_small_ones_fill_loses_to_it():
    """Common practice, no source: the body scaled by up to 1.5, filled with what fills the smallest.

    Not under a shield: there the wall loses so little that the greater distance from contents to lid wins a few
    percent. The benchmark prints it.
    """
    for case in sizes():
        if case.design.body.gap is None or not case.design.body.gap.shields:
            assert np.all(np.diff(case.same_fill) < 0.0), case


def test_a_longer_neck_does_not_help_while_vapour_heats_it_and_a_lower_seal_does():
    """Common practice, no source: 75 in place of 30 mm. Under a disc at most a fifth of what it gives a plug with a
    seal at its foot, and a plug with one seal at the rim stays between."""
    for case in neck_lengths():
        assert case.disc < 0.06, case
        assert case.disc < 0.2 * case.lower_seal, case
        assert case.disc < case.one_seal < 0.7 * case.lower_seal, case


def test_cold_walls_shorten_the_hold_time_by_4_to_12_per_cent():
    """Independent finite-element solutions of five containers (fem_cases.csv): 4 to 12 %; here every lidded design."""
    assert len(wall_starts()) == 15
    for case in wall_starts():
        assert 0.04 <= case.shortening <= 0.12, case


def test_a_preheated_vessel_ends_warmer():
    """EN 12546-1:2000, second-hand: 5 min with water of 95 C, refilled with 95 C, 6 h at 20 C. No limit is known to us.

    Half full the same walls take their heat from half the water, and the preheat warms more of them than the fill
    wets: where the container holds well (above 55 C half full) it gains more.
    """
    for full, half in zip(six_hours()[::2], six_hours()[1::2], strict=True):
        for case in (full, half):
            assert 0.4 < case.preheated - case.cold < 4.0, case
        assert half.cold < full.cold
        if half.cold > 273.15 + 55.0:
            assert half.preheated - half.cold > full.preheated - full.cold, half


def test_a_hot_ranking_does_not_carry_over_to_cold():
    """Common practice, no source: two seals on a hollow plug win against a loose foam insert hot, and lose cold."""
    for case in hot_and_cold():
        assert case.hot[0] > 1.05 * case.hot[1], case
        assert case.cold[0] < 0.99 * case.cold[1], case


def test_vapour_carries_several_times_as_much_through_the_headspace():
    """Common practice, no source: order 40 W/m2K above hot contents, 10 without vapour, 4 above cold contents.

    The first is met while the saturated air stands still. Once a lid is 10 K colder the model's headspace turns over
    and carries 95 to 127, two to three times that figure.
    """
    for case in headspace_conductances():
        assert 20.0 < case.hot_still < 60.0, case
        assert 7.0 < case.hot_dry < 13.0, case
        assert 3.0 < case.cold < 6.0, case
        assert case.hot > case.hot_still
        assert case.hot_still > 2.0 * case.hot_dry > 3.0 * case.cold, case
