"""Which features go with hold time, and what a set of containers can't tell apart."""

from dataclasses import replace

import numpy as np
import pytest

from geometries.container import Container
from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.overrides import with_overrides
from thermal_model.reasons.features import (
    FEATURES,
    Alias,
    Feature,
    rank_correlation,
    rank_correlation_interval,
    study_features,
)
from thermal_model.report.features_text import alias_text, features_text

SLIM = load_container("slim_neck_double_seal")
WIDTHS = (40.0, 44.0, 48.0, 52.0, 56.0, 60.0, 64.0, 66.0)


def bench(*, seal_below: float) -> dict[str, Container]:
    """Eight bottles of rising mouth; those narrower than a width have the lower seal."""
    found = {}
    for number, width in enumerate(WIDTHS):
        changes: dict[str, object] = {"body.neck.mouth_diameter": f"{width} mm"}
        if width > seal_below:
            changes["lid.seals.1"] = None
        found[f"bottle_{number}"] = with_overrides(SLIM, changes)
    return found


def test_what_only_occurs_with_a_narrow_mouth_cannot_be_credited() -> None:
    study = study_features(bench(seal_below=50.0), np.linspace(9.0, 5.0, 8).tolist())
    alias = next(a for a in study.aliases if a.one.name == "seal deep in the neck")
    assert alias.other.name == "mouth diameter"
    assert alias.bound == pytest.approx(48.0)
    words = alias_text(alias, study)
    assert "occurs only with mouth diameter at most 48 mm" in words
    assert "can't be credited by itself" in words
    assert "mouth diameter 60 mm would tell" in words
    assert words in " ".join(features_text(study).split())


def test_where_seals_and_mouths_are_mixed_neither_stands_for_the_other() -> None:
    mixed = bench(seal_below=100.0)
    for name in ("bottle_0", "bottle_3", "bottle_4", "bottle_7"):
        mixed[name] = with_overrides(mixed[name], {"lid.seals.1": None})
    study = study_features(mixed, [9.0, 8.0, 7.0, 6.0, 5.0, 4.0, 3.0, 2.0])
    assert {(a.one.name, a.other.name) for a in study.aliases} == {("capacity under the lid", "mouth diameter")}
    assert study.associations[0].feature.name == "mouth diameter"
    assert study.associations[0].correlation == pytest.approx(-1.0)
    assert "capacity under the lid and mouth diameter: they rise together (+1.00)" in features_text(study)


def test_a_known_law_is_found_again() -> None:
    """log hold time = -0.02 for each mm of mouth + 0.3 for a lower seal, in a set that tells both apart."""
    mixed = bench(seal_below=100.0)
    for name in ("bottle_0", "bottle_3", "bottle_4", "bottle_7"):
        mixed[name] = with_overrides(mixed[name], {"lid.seals.1": None})
    mixed |= {f"{name}_again": container for name, container in mixed.items()}
    has_seal = np.array([len(c.lid.seals) == 2 for c in mixed.values() if c.lid is not None])
    noise = np.random.default_rng(1).normal(0.0, 0.01, len(mixed))
    times = np.exp(10.0 - 0.02 * np.tile(WIDTHS, 2) + 0.3 * has_seal + noise)
    found = study_features(mixed, times.tolist()).regression
    assert found is not None
    slopes = dict(zip((f.name for f in found.features), found.slopes.tolist(), strict=True))
    assert slopes["seal deep in the neck"] == pytest.approx(0.3, abs=0.03)
    assert slopes["mouth diameter"] == pytest.approx(-0.2, abs=0.02)
    assert 0.97 < found.foretold < found.explained <= 1.0


def test_chance_is_not_called_a_law() -> None:
    """Hold times without any reason: at most a few foretell a little; the share foretold stays small."""
    draw = np.random.default_rng(5)
    foretold = []
    for _ in range(40):
        found = study_features(bench(seal_below=50.0), np.exp(draw.normal(size=8)).tolist()).regression
        foretold.append(0.0 if found is None else found.foretold)
    assert np.mean(foretold) < 0.15


def test_what_is_the_same_in_all_is_set_aside() -> None:
    study = study_features(bench(seal_below=50.0), np.linspace(9.0, 5.0, 8).tolist())
    assert "double wall" in {feature.name for feature in study.same}
    assert {a.feature.name for a in study.associations}.isdisjoint({feature.name for feature in study.same})


def test_order_of_containers_does_not_matter() -> None:
    containers, times = bench(seal_below=50.0), np.linspace(9.0, 5.0, 8)
    shuffled = dict(reversed(containers.items()))
    one, other = study_features(containers, times.tolist()), study_features(shuffled, times[::-1].tolist())
    assert [a.correlation for a in one.associations] == pytest.approx([a.correlation for a in other.associations])


def test_too_few_are_refused() -> None:
    with pytest.raises(InputError, match="3 designs are too few"):
        study_features({f"b{i}": SLIM for i in range(3)}, [1.0, 2.0, 3.0])


def test_every_feature_is_a_number_of_every_kind_of_container() -> None:
    for name in ("stoneware_cup", "foam_jug", "slim_neck_double_seal"):
        assert all(np.isfinite(feature.value(load_container(name))) for feature in FEATURES)


# --- ranks ----------------------------------------------------------------------------------------------------


def test_spearman_worked_example() -> None:
    """IQ against hours of television, rho = -29/165; a worked example widely printed, from memory."""
    iq = np.array([106, 100, 86, 101, 99, 103, 97, 113, 112, 110], dtype=float)
    hours = np.array([7, 27, 2, 50, 28, 29, 20, 12, 6, 17], dtype=float)
    assert rank_correlation(iq, hours) == pytest.approx(-29 / 165, rel=1e-12)


def test_interval_covers_nine_in_ten() -> None:
    """Bivariate normal pairs, rho_S = 6/pi asin(r/2) (Pearson 1907; from memory)."""
    draw, r, covered = np.random.default_rng(2), 0.6, 0
    true = 6.0 / np.pi * np.arcsin(0.5 * r)
    for _ in range(300):
        one = draw.normal(size=20)
        other = r * one + np.sqrt(1.0 - r * r) * draw.normal(size=20)
        low, high = rank_correlation_interval(rank_correlation(one, other), 20)
        covered += low <= true <= high
    assert 0.86 <= covered / 300 <= 0.94


def _feature(name: str, unit: str = "", presupposes: str = "") -> Feature:
    return Feature(name, unit, 1.0, lambda _: 0.0, presupposes)


@pytest.mark.parametrize(
    ("one", "other", "correlation", "said"),
    [
        (_feature("seal", "yes", "plug"), _feature("plug", "yes"), 1.0, "seal needs plug: compare only containers"),
        (_feature("plug", "yes"), _feature("seal", "yes", "plug"), 1.0, "seal needs plug: compare only containers"),
        (_feature("plug", "yes"), _feature("seal", "yes"), 0.9, "the one comes with the other (+0.90)"),
        (_feature("plug", "yes"), _feature("seal", "yes"), -0.9, "the one comes where the other is missing (−0.90)"),
        (_feature("plug", "yes"), _feature("width", "mm"), 0.9, "those with it have more of it (+0.90)"),
        (_feature("plug", "yes"), _feature("width", "mm"), -0.9, "those with it have less of it (−0.90)"),
        (_feature("depth", "mm"), _feature("width", "mm"), 0.9, "they rise together (+0.90)"),
        (_feature("depth", "mm"), _feature("width", "mm"), -0.9, "the one rises as the other falls (−0.90)"),
    ],
)
def test_features_that_occur_together_are_told_in_words(
    one: Feature, other: Feature, correlation: float, said: str
) -> None:
    study = study_features(bench(seal_below=50.0), np.linspace(9.0, 5.0, 8).tolist())
    assert said in alias_text(Alias(one, other, correlation, float("nan")), study)


def test_where_nothing_that_matters_occurs_together_that_is_said() -> None:
    study = replace(study_features(bench(seal_below=50.0), np.linspace(9.0, 5.0, 8).tolist()), aliases=())
    assert "each can be told by itself" in features_text(study)
    many = study_features(bench(seal_below=50.0), np.linspace(9.0, 5.0, 8).tolist())
    many = replace(many, aliases=many.aliases * 9)
    assert f"- and {len(many.aliases) - 8} more pairs (--json names them)" in features_text(many)
