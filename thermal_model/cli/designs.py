"""`holdtime designs`: the starter designs, what they measure, and a copy to begin one's own."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries import container as geometry
from geometries.checks import fill_problems
from geometries.container import Container, closed_capacity
from geometries.design_copy import begun_copy
from geometries.design_file import catalogue_names, design_path, load_container, parse_container
from geometries.errors import InputError, InputProblem, at_once, refuse, refuse_given
from geometries.files import parse_toml, read_text, write_text
from geometries.materials_file import materials_named_in
from geometries.quantities import Dimension
from geometries.schema import container_schema
from thermal_model.cli import options
from thermal_model.cli.answer import print_json
from thermal_model.cli.outputs import check_files
from thermal_model.cli.picture_options import LookOptions
from thermal_model.cli.progress import DRAWING, progress_bar
from thermal_model.cli.record import TEXTS, command
from thermal_model.cli.settings import read_design, split_settings
from thermal_model.cli.typed import typed_quantity
from thermal_model.words.documents import entries
from thermal_model.words.numbers import aligned

designs = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Starter designs: list, show, copy, and the schema of a design file.",
)


@designs.command("list")
def list_designs(json: options.Json = False) -> None:
    """List the starter designs: mouth, capacity and lid in few words.

    Example: holdtime designs list
    """
    containers = [load_container(name) for name in catalogue_names()]
    if json:
        print_json({"designs": [design_document(container) for container in containers]})
        return

    rows = [("design", "title", "mouth", "holds", "lid"), *(_list_row(container) for container in containers)]
    typer.echo(aligned(rows, indent=""))


def _list_row(container: Container) -> tuple[str, ...]:
    mouth = f"{2e3 * float(container.body.mouth_radius):.0f} mm"
    capacity = f"{1e6 * float(closed_capacity(container)):.0f} mL"
    return container.name, container.title, mouth, capacity, lid_words(container)


def lid_words(container: Container) -> str:
    """Return a lid in few words."""
    lid = container.lid
    if lid is None:
        return "none"
    pockets = [layer for layer in lid.layers if layer.kind == "pocket"]
    inside = f"{pockets[0].filling} pocket" if len(pockets) == 1 else f"{len(pockets)} pockets"
    words = [f"{len(lid.layers)} layers with {inside}" if pockets else "plain disc"]
    if lid.plug is not None:
        words.append(f"{lid.plug.kind} plug {1e3 * float(lid.plug.depth):.0f} mm")
    words.append({0: "no seal", 1: "1 seal"}.get(len(lid.seals), f"{len(lid.seals)} seals"))
    words += [f"{'closed' if o.closed else 'open'} {o.kind.replace('_', ' ')}" for o in lid.openings]
    return ", ".join(words)


@dataclass(frozen=True, kw_only=True)
class Show:
    """What `holdtime designs show` is asked."""

    design: options.Design
    plot: Annotated[
        Path | None, typer.Option("--plot", metavar="FILE", help="Draw it to scale: .png, .svg or .pdf.")
    ] = None
    looks: LookOptions
    beside: Annotated[
        TEXTS, typer.Option("--beside", metavar="DESIGN", help="Draw this one next to it; repeatable.")
    ] = ()
    set_: options.Set = ()
    fill: Annotated[str | None, typer.Option("--fill", metavar="VOLUME", help="Draw it filled, '500mL'.")] = None
    unit: Annotated[str, typer.Option("--unit", metavar="UNIT", help="Of the drawing's lengths: mm, cm or in.")] = "mm"
    json: options.Json = False


@designs.command("show")
@command(Show, "holdtime designs show wide_mouth_disc")
def show(wanted: Show) -> None:
    """Show what a design measures: sizes, capacities and masses that follow from its file; draw it to scale."""
    drawn_alone = {"--beside": wanted.beside, "--fill": wanted.fill, **wanted.looks.given}
    container, others, volume, *_ = at_once(
        lambda: _with_settings(wanted.design, wanted.set_),
        lambda: [load_container(other) for other in wanted.beside],
        lambda: None if wanted.fill is None else typed_quantity(wanted.fill, Dimension.VOLUME, "--fill", above=0.0),
        lambda: _check_unit(wanted.unit),
        lambda: check_files(wanted.plot),
        lambda: None if wanted.plot else refuse_given(drawn_alone, "only changes a drawing; add --plot FILE"),
    )
    if wanted.plot is not None:
        _draw([container, *others], volume, wanted, wanted.plot)
    if wanted.json:
        print_json(design_document(container))
        return

    called = f"{container.title} ({container.name})" if container.title else container.name
    about = f"{called}: {container.summary}" if container.summary else called
    typer.echo(f"{about}\n{aligned(_show_rows(design_document(container)))}")
    changed = ", changed by --set" if wanted.set_ else ""
    typer.echo(f"\n  file: {design_path(wanted.design)}{changed}")


def _with_settings(design: str, settings: tuple[str, ...]) -> Container:
    """Return a design with what --set changes; the scenario has no part in what it measures."""
    of_scenario = split_settings(settings)[1]
    if of_scenario:
        message = "is of a run, not of the design; holdtime predict takes it"
        raise InputError(InputProblem(message, f"scenario.{path}", source="--set") for path in of_scenario)
    return read_design(design, settings)


def _check_unit(unit: str) -> None:
    if unit not in ("mm", "cm", "in"):
        raise InputError(f"'{unit}' is no unit of a drawing; take mm, cm or in", source="--unit")


def _draw(containers: list[Container], fill: float | None, wanted: Show, plot: Path) -> None:
    refuse(
        InputProblem(f"{container.name}: {problem.message}", source="--fill")
        for container in containers
        if fill is not None
        for problem in fill_problems(container, fill)
    )
    with progress_bar(DRAWING):
        from thermal_model.report.drawing import Drawn, draw_containers

        draw_containers([Drawn(container, fill) for container in containers], plot, wanted.unit, wanted.looks.look)
    typer.echo(f"written: {plot}", err=True)


def design_document(container: Container) -> dict[str, Any]:
    """Return a design and the dimensions that follow from it, keys with their units."""
    return {
        **entries(container, "name", "title", "summary"),
        "mouth_diameter_m": 2.0 * float(container.body.mouth_radius),
        "outside_diameter_m": float(geometry.outside_diameter(container)),
        "outside_height_m": float(geometry.outside_height(container)),
        "total_height_m": float(geometry.total_height(container)),
        "brim_capacity_m3": float(geometry.brim_capacity(container)),
        "closed_capacity_m3": float(geometry.closed_capacity(container)),
        "wall_mass_kg": float(geometry.wall_mass(container)),
        "lid_mass_kg": float(geometry.lid_mass(container)),
        "empty_mass_kg": float(geometry.empty_mass(container)),
        "lid": lid_words(container),
        "design": container.model_dump(mode="json", exclude_unset=True),
    }


def _given_capacity(facts: dict[str, Any]) -> str:
    """Return what the file says of the capacity, where the sizes say something else."""
    body = facts["design"]["body"]
    is_checked = "capacity" in body and len(body.keys() & {"inside_depth", "outside_height"}) > 0
    is_checked = is_checked and len(body.keys() & {"inside_diameter", "outside_diameter"}) > 0
    return f"; given as {body['capacity']}" if is_checked else ""


def _show_rows(facts: dict[str, Any]) -> list[tuple[str, ...]]:
    return [
        ("mouth, inside", f"{1e3 * facts['mouth_diameter_m']:.1f} mm"),
        ("outside diameter", f"{1e3 * facts['outside_diameter_m']:.1f} mm"),
        ("height without lid", f"{1e3 * facts['outside_height_m']:.1f} mm"),
        ("height with lid", f"{1e3 * facts['total_height_m']:.1f} mm"),
        ("capacity to the brim", f"{1e6 * facts['brim_capacity_m3']:.0f} mL{_given_capacity(facts)}"),
        ("capacity under the lid", f"{1e6 * facts['closed_capacity_m3']:.0f} mL"),
        ("mass of the walls", f"{1e3 * facts['wall_mass_kg']:.0f} g"),
        ("mass of the lid", f"{1e3 * facts['lid_mass_kg']:.0f} g"),
        ("mass, empty, all", f"{1e3 * facts['empty_mass_kg']:.0f} g"),
        ("lid", facts["lid"]),
    ]


@designs.command()
def copy(
    design: options.Design,
    target: Annotated[Path, typer.Argument(metavar="FILE", help="Where the copy goes.")],
) -> None:
    """Copy a design to begin one's own: its sizes and the comments on them, under the name of the file.

    Example: holdtime designs copy slim_neck_double_seal mine.toml
    """
    check_files(None, target)
    source = design_path(design)
    text = read_text(source)
    container = parse_container(text, str(source), source.parent)
    beside = materials_named_in(parse_toml(text, str(source)), source.parent)
    copied = begun_copy(text, container, target, beside)
    parse_container(copied, str(target))
    write_text(target, copied)
    typer.echo(f"written: {target}; change what you measured, then: holdtime predict {target}", err=True)


@designs.command()
def schema() -> None:
    """Print the JSON Schema of a design file, so that an editor completes and checks it.

    Example: holdtime designs schema
    """
    print_json(container_schema())
