"""Bundles: packed, read by others, made again; what was changed, is damaged or comes from elsewhere is refused."""

import hashlib
import json
import shutil
import stat
import subprocess
import sys
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from geometries.errors import InputError
from tests.cli.conftest import Command, refused, run
from tests.cli.test_calibrate import BENCH_FILE, READINGS
from thermal_model.bench.write.descriptor import DESCRIPTOR
from thermal_model.bundle.pack import CALIBRATION, RANKINGS, RECIPE
from thermal_model.bundle.unpack import is_safe, opened
from thermal_model.cli.reproduce import OTHERWISE

READER = """
import sys, warnings
warnings.simplefilter("ignore")
from frictionless import Package
report = Package(sys.argv[1]).validate()
print(report.valid, report.flatten(["message"]), len(report.tasks))
"""


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two containers, one of them of a design of its own, one with two runs."""
    folder = tmp_path_factory.mktemp("bench") / "galley"
    folder.mkdir()
    assert run("designs", "copy", "stoneware_cup", folder / "mine.toml").exit_code == 0
    own = BENCH_FILE + '\n[containers.own_cup]\ndesign = "mine.toml"\n'
    (folder / "bench.toml").write_text(own)
    runs = ["run,container,probe,fill [mL],poured at [C],room [C]"]
    runs += [f"{name},thin_disc_lid,log,400,90,21" for name in READINGS]
    (folder / "runs.csv").write_text("\n".join(runs) + "\n")
    rows = [f"{name},{time},{shown}" for name, looks in READINGS.items() for time, shown in looks]
    (folder / "readings.csv").write_text("\n".join(["run,time [min],temperature [C]", *rows]) + "\n")
    return folder


@pytest.fixture(scope="module")
def packed(bench: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bundle, as a folder."""
    target = tmp_path_factory.mktemp("packed") / "galley"
    made = run("bundle", bench, "--until", "70C", "--no-cold", "--draws", "8", "-o", target)
    assert made.exit_code == 0, made.output
    return target


@pytest.fixture
def mine(packed: Path, tmp_path: Path) -> Path:
    """A copy that may be changed."""
    return shutil.copytree(packed, tmp_path / "mine")


def zip_of(folder: Path, target: Path) -> Path:
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(p for p in folder.rglob("*") if p.is_file()):
            archive.write(path, path.relative_to(folder).as_posix())
    return target


def resealed(folder: Path, path: str, change: Callable[[Any], None]) -> None:
    """Change a JSON file of a bundle, and its hash with it: as someone else's honest bundle would be."""
    document = json.loads((folder / path).read_text())
    change(document)
    resealed_bytes(folder, path, json.dumps(document).encode())


def resealed_bytes(folder: Path, path: str, content: bytes) -> None:
    """Write a file of a bundle, and its hash with it."""
    (folder / path).write_bytes(content)
    package = json.loads((folder / DESCRIPTOR).read_text())
    for resource in package["resources"]:
        if resource["path"] == path:
            resource["hash"] = f"sha256:{hashlib.sha256((folder / path).read_bytes()).hexdigest()}"
    (folder / DESCRIPTOR).write_text(json.dumps(package))


def test_another_program_reads_it(packed: Path) -> None:
    """By the reference implementation of the standard, which checks hashes, bytes and tables."""
    command = [sys.executable, "-c", READER, DESCRIPTOR]
    done = subprocess.run(command, cwd=packed, capture_output=True, text=True, check=True)
    assert done.stdout.split()[0] == "True", done.stdout
    package = json.loads((packed / DESCRIPTOR).read_text())
    assert {"holdtime", "python", "numpy", "scipy"} <= package["versions"].keys()
    assert package["seed"] == 1
    fields = next(r for r in package["resources"] if r["path"] == "bench/readings.csv")["schema"]["fields"]
    assert {field.get("unit") for field in fields} >= {"min", "C"}
    assert not any(str(packed.parent) in path.read_text() for path in packed.rglob("*.json"))


def test_made_again_it_is_the_same(packed: Path, tmp_path: Path) -> None:
    archive = zip_of(packed, tmp_path / "galley.zip")
    result = run("reproduce", archive, "--json", "--tolerance", "0.1%")
    assert result.exit_code == 0, result.output
    document = json.loads(result.stdout)
    assert document["is_same"]
    assert document["numbers_compared"] > 20
    assert document["lists_of_the_same_order_and_tiers"] == ["hot"]
    assert "Same order and same tiers: hot." in run("reproduce", packed).stdout
    assert document["largest_relative_difference_of_times"] < 1e-9
    assert document["versions_that_differ"] == {}


def test_each_difference_is_told(mine: Path) -> None:
    def later(rankings: Any) -> None:
        rankings["hot"]["standings"][0]["predicted_s"]["median"] *= 1.02
        rankings["hot"]["standings"].reverse()

    def moved(calibration: Any) -> None:
        calibration["common"]["mean"][0] += 0.1

    resealed(mine, RANKINGS, later)
    resealed(mine, CALIBRATION, moved)
    result = run("reproduce", mine)
    assert result.exit_code == OTHERWISE, result.output
    assert "Not reproduced: 3 differences." in result.stdout
    assert "Same order" not in result.stdout
    for words in ("hot: another order: ", ": median: ", "calibration: all containers: "):
        assert words in result.stdout
    assert run("reproduce", mine, "--json").exit_code == OTHERWISE


def test_designs_come_from_the_bundle(mine: Path) -> None:
    """A design that is another one now, as a later catalogue might have it, is told by what it does."""

    def wider(design: Any) -> None:
        design["body"]["inside_depth"] = 0.11

    resealed(mine, "designs/own_cup.json", wider)
    result = run("reproduce", mine)
    assert result.exit_code == OTHERWISE
    assert "own_cup: nominal" in result.stdout


@pytest.mark.parametrize("instead", ["foam_jug", "of_another_catalogue"])
def test_a_later_catalogue_changes_nothing(mine: Path, instead: str) -> None:
    """Runs, too, are those of the container as it was."""
    bench = (mine / "bench" / "bench.toml").read_text()
    assert 'design = "thin_disc_lid"' in bench
    resealed_bytes(mine, "bench/bench.toml", bench.replace('"thin_disc_lid"', f'"{instead}"').encode())
    result = run("reproduce", mine)
    assert result.exit_code == 0, result.output


def changed_file(folder: Path) -> None:
    with (folder / "bench" / "readings.csv").open("a") as file:
        file.write("hot-1,200,10\n")


def no_results(folder: Path) -> None:
    resealed(folder, DESCRIPTOR, lambda _: None)
    (folder / RANKINGS).unlink()


def other_package(folder: Path) -> None:
    (folder / DESCRIPTOR).write_text('{"name": "a", "resources": []}')


def other_format(folder: Path) -> None:
    package = json.loads((folder / DESCRIPTOR).read_text())
    (folder / DESCRIPTOR).write_text(json.dumps(package | {"format": 2}))


def path_outside(folder: Path) -> None:
    package = json.loads((folder / DESCRIPTOR).read_text())
    package["resources"][0]["path"] = "../outside.csv"
    (folder / DESCRIPTOR).write_text(json.dumps(package))


def more_files(folder: Path) -> None:
    (folder / "bench" / "hidden.toml").write_text("")


def no_recipe(folder: Path) -> None:
    resealed(folder, RECIPE, lambda document: document.pop("lists"))


def two_wrong_keys(folder: Path) -> None:
    resealed(folder, RECIPE, lambda document: document.update(draw=1, sead=2))


def three_wrong_sizes(folder: Path) -> None:
    resealed(folder, "designs/own_cup.json", lambda design: design["body"].update(inside_depth=-1, a=1, b=2))


def bad_calibration(folder: Path) -> None:
    resealed(folder, CALIBRATION, lambda document: document["common"].update(covariance=[]))


def bad_results(folder: Path) -> None:
    resealed(folder, RANKINGS, lambda document: document["hot"].pop("standings"))


DAMAGE = {
    changed_file: "bench/readings.csv: is not as it was packed",
    no_results: "results/rankings.json: is missing",
    other_package: "is another Data Package",
    other_format: "has format 2",
    path_outside: "../outside.csv: leads out of the bundle",
    more_files: "bench/hidden.toml: is not in the descriptor",
    no_recipe: "lists: is missing",
    two_wrong_keys: "results/recipe.json: draw, sead: not as a bundle has them; the bundle was changed",
    three_wrong_sizes: "designs/own_cup.json: body.inside_depth, body.a, body.b: not as a bundle has them",
    bad_results: "results/rankings.json: lacks results that a bundle has",
    bad_calibration: "results/calibration.json: lacks results that a bundle has",
    lambda folder: (folder / DESCRIPTOR).unlink(): "is no bundle: it has no datapackage.json",
    lambda folder: (folder / DESCRIPTOR).write_text("{"): "is no JSON file",
    lambda folder: (folder / "bench" / "link.csv").symlink_to("/etc/hostname"): "is a link",
}


@pytest.mark.parametrize("damage", DAMAGE, ids=lambda damage: damage.__name__)
def test_damaged_or_foreign_ones_are_refused_in_one_line(mine: Path, damage: Callable[[Path], Any]) -> None:
    damage(mine)
    assert len(refused(run("reproduce", mine), DAMAGE[damage])) == 1


def test_a_bundle_may_be_looked_at_moved_and_packed_again(mine: Path, tmp_path: Path) -> None:
    """What systems put beside files counts for nothing, and one folder around all of it does no harm."""
    for place in (mine, mine / "bench"):
        (place / ".DS_Store").write_bytes(b"\0")
    around = tmp_path / "sent on" / "a folder"
    shutil.move(mine, around)
    (around.parent / "__MACOSX").mkdir()
    (around.parent / "__MACOSX" / "._runs.csv").write_bytes(b"\0")
    again = zip_of(around.parent, tmp_path / "again.zip")
    for bundle in (around, around.parent, again):
        with opened(bundle) as folder:
            assert (folder / RECIPE).is_file()
    assert run("reproduce", again).exit_code == 0


def written(target: Path, entries: dict[str, bytes], *, mode: int = 0o644) -> Path:
    with warnings.catch_warnings(), zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        warnings.simplefilter("ignore")  # of a name that is there twice
        for name, data in entries.items():
            entry = zipfile.ZipInfo(name)
            entry.external_attr, entry.compress_type = mode << 16, zipfile.ZIP_DEFLATED
            archive.writestr(entry, data)
            if name == "twice.csv":
                archive.writestr(entry, data)
    return target


@pytest.mark.parametrize(
    "name", ["../out.csv", "/out.csv", "a/../../out.csv", "C:\\out.csv", "a\\..\\out.csv", "a/./b", "a\nb"]
)
def test_no_path_leads_out_of_a_bundle(tmp_path: Path, name: str) -> None:
    assert not is_safe(name)
    inside = tmp_path / "in"
    inside.mkdir()
    lines = refused(run("reproduce", written(inside / "a.zip", {name: b"mine"})), "leads out of the bundle")
    assert len(lines) == 1
    assert [path.name for path in tmp_path.rglob("*")] == ["in", "a.zip"]


def test_archives_that_lie_or_are_too_large_are_refused(tmp_path: Path, packed: Path) -> None:
    bomb = written(tmp_path / "bomb.zip", {"a.csv": bytes(201_000_000)})
    assert bomb.stat().st_size < 1_000_000
    refused(run("reproduce", bomb), "holds more than 2000 files or 200 MB")
    refused(run("reproduce", written(tmp_path / "twice.zip", {"twice.csv": b""})), "twice.csv: is there twice")
    link = written(tmp_path / "link.zip", {"a.csv": b"/etc/hostname"}, mode=stat.S_IFLNK | 0o777)
    refused(run("reproduce", link), "a.csv: is a link")
    (tmp_path / "text.zip").write_text("no archive")
    refused(run("reproduce", tmp_path / "text.zip"), "no sound ZIP file")
    whole = zip_of(packed, tmp_path / "cut.zip").read_bytes()
    (tmp_path / "cut.zip").write_bytes(whole[: len(whole) // 2])
    refused(run("reproduce", tmp_path / "cut.zip"), "no sound ZIP file")
    broken = bytearray(whole)
    broken[200:260] = bytes(60)
    (tmp_path / "broken.zip").write_bytes(bytes(broken))
    assert len(refused(run("reproduce", tmp_path / "broken.zip"))) == 1
    refused(run("reproduce", tmp_path / "none.zip"), "there is no such file or folder")


def test_a_changed_byte_is_found_or_harmless(tmp_path: Path, packed: Path) -> None:
    whole = zip_of(packed, tmp_path / "whole.zip").read_bytes()
    with opened(tmp_path / "whole.zip") as folder:
        sound = {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*.*")}
    refusals = []
    for place in range(0, len(whole), len(whole) // 80):
        (tmp_path / "one.zip").write_bytes(whole[:place] + bytes([whole[place] ^ 255]) + whole[place + 1 :])
        try:
            with opened(tmp_path / "one.zip") as folder:
                assert {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*.*")} == sound
        except InputError as error:
            refusals.append(len(error.problems))
    assert refusals == [1] * len(refusals)
    assert len(refusals) > 60


def test_a_problem_names_the_bundle(mine: Path, tmp_path: Path) -> None:
    resealed_bytes(mine, "bench/runs.csv", b"")
    (line,) = refused(run("reproduce", zip_of(mine, tmp_path / "mine.zip")), "is empty")
    assert f"{tmp_path / 'mine.zip'}/bench/runs.csv" in line


def test_what_can_t_be_packed_is_refused(bench: Path, holdtime: Command) -> None:
    refused(holdtime("bundle", bench, "-o", "a.tar"), "a.tar: ends in .tar")
    shutil.copytree(bench, "near")
    shutil.move("near/mine.toml", "mine.toml")
    text = Path("near/bench.toml").read_text().replace("mine.toml", "../mine.toml")
    Path("near/bench.toml").write_text(text)
    refused(holdtime("bundle", "near", "--no-cold", "--draws", "0", "-o", "a.zip"), "own_cup", "lies outside the bench")
    refused(holdtime("reproduce", "near", "--tolerance", "-1%"), "--tolerance")
    assert sorted(path.name for path in Path().iterdir()) == ["mine.toml", "near"]


def test_the_same_bench_gives_the_same_bytes(bench: Path, holdtime: Command) -> None:
    for name in ("a.zip", "b.zip"):
        made = holdtime("bundle", bench, "--until", "70C", "--no-cold", "--draws", "0", "-o", name)
        assert made.exit_code == 0, made.output
    assert Path("a.zip").read_bytes() == Path("b.zip").read_bytes()
