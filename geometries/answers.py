"""The way back from a design to the answers that make it, where there is one."""

from collections.abc import Iterable, Mapping
from typing import Any

from geometries.errors import InputError
from geometries.quantities import Dimension, parse_quantity
from geometries.questions import MATERIALS, Answers, design_document

Document = Mapping[str, Any]


def answers_of(document: Document) -> Answers | None:
    """Return the answers that make a design, None where it says more than answers can.

    Parameters
    ----------
    document : mapping
        As a design file holds it.

    Returns
    -------
    mapping of str to str or None
        `design_document` makes the same document of them.
    """
    try:
        found = {key: text for key, text in _answers(document) if text}
        made = design_document(found, str(document.get("name", "")))
    except (InputError, KeyError, TypeError, AttributeError, ValueError, IndexError):
        return None
    return found if _alike(made, document) else None


def _alike(made: Any, given: Any) -> bool:
    if isinstance(made, Mapping) and isinstance(given, Mapping):
        return made.keys() == given.keys() and all(_alike(made[key], given[key]) for key in made)
    if isinstance(made, list) and isinstance(given, list):
        return len(made) == len(given) and all(map(_alike, made, given))
    return made == given


def _answers(document: Document) -> Iterable[tuple[str, str]]:
    body, unsure = document["body"], document.get("unsure", {})
    yield from _walls(body)
    neck = body.get("neck")
    yield "shape", "straight" if neck is None else "neck"

    def size(path: str, value: str) -> str:
        return "" if path in unsure else str(value)

    if neck is None:
        yield "mouth", size("body.inside_diameter", body["inside_diameter"])
        yield from _outside(body, unsure)
    else:
        yield "mouth", size("body.neck.mouth_diameter", neck["mouth_diameter"])
        yield "neck", size("body.neck.length", neck["length"])
        yield "outside", size("body.outside_diameter", body["outside_diameter"])
    yield "capacity", str(body.get("capacity", ""))
    yield "depth", str(body.get("inside_depth", ""))
    if "outside_height" in body:
        yield "height", size("body.outside_height", body["outside_height"])
    yield from _lid(document.get("lid"), size)


def _outside(body: Document, unsure: Document) -> Iterable[tuple[str, str]]:
    """Yield the outside of a straight body: it was told if the wall or the gap that follows from it is not unsure."""
    wall, gap = body["wall"], body.get("gap")
    is_told = "body.wall.inner_thickness" not in unsure if gap is None else "body.gap.width" not in unsure
    if not is_told or "body.inside_diameter" in unsure:
        return
    side = _mm(wall["inner_thickness"]) if gap is None else 2.0 * _mm(wall["inner_thickness"]) + _mm(gap["width"])
    yield "outside", f"{_mm(body['inside_diameter']) + 2.0 * side:.6g} mm"
    if "inside_base_diameter" in body:
        yield "foot", f"{_mm(body['inside_base_diameter']) + 2.0 * side:.6g} mm"


def _mm(text: str) -> float:
    return 1000.0 * parse_quantity(text, Dimension.LENGTH)


def _walls(body: Document) -> Iterable[tuple[str, str]]:
    wall, surface = body["wall"], body["exterior"]["surface"]
    yield "walls", "single" if wall.get("kind") == "single" else body["gap"]["kind"]
    yield "material", {material: key for key, material in MATERIALS.items()}[wall["material"]]
    yield "finish", {"stainless_polished": "bare", "powder_coat": "coated"}.get(surface, "")


def _lid(lid: Document | None, size: Any) -> Iterable[tuple[str, str]]:
    if lid is None:
        yield "lid", "none"
        return
    layers = lid["layers"]
    pocket = next((layer for layer in layers if layer["kind"] == "pocket"), None)
    if pocket is None:
        yield "lid", "solid"
        yield "lid_height", size("lid.layers.0.thickness", layers[0]["thickness"])
    else:
        yield "lid", "foam" if pocket.get("filling") == "foam" else "hollow"
        depth = size("lid.layers.1.depth", pocket["depth"])
        yield "lid_height", depth and f"{float(depth.removesuffix(' mm')) + 5.0:g} mm"
    plug = lid.get("plug")
    yield "plug", "none" if plug is None else plug["kind"]
    if plug is not None:
        yield "plug_depth", size("lid.plug.depth", plug["depth"])
        yield "clearance", size("lid.plug.clearance", plug["clearance"])
    seals = lid.get("seals", [])
    yield "seals", str(len(seals))
    if plug is not None:
        yield "seal_depths", ", ".join(seal["depth"] for seal in seals)
    opening = next(iter(lid.get("openings", [])), None)
    yield "hole", "none" if opening is None else _hole(opening)
    if opening is not None:
        yield "hole_diameter", size("lid.openings.0.diameter", opening["diameter"])


def _hole(opening: Document) -> str:
    if opening["kind"] == "straw_hole":
        return "straw"
    return "closed_spout" if opening["closed"] else "spout"
