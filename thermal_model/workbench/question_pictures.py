"""A small picture for each question: a container cut open, with what is asked about in strong colour."""

from markupsafe import Markup

_BODY = '<path d="M34 22v10c0 8-10 8-10 18v52h52V50c0-10-10-10-10-18V22" class="thin"/>'
_LID = '<rect x="30" y="12" width="40" height="10" class="thin"/>'
_PLUG = '<rect x="37" y="22" width="26" height="22" class="thin"/>'
_CUP = '<path d="M22 22l7 80h42l7-80" class="thin"/>'


def _across(left: int, right: int, y: int) -> str:
    return f'<path d="M{left} {y}H{right}M{left} {y - 5}v10M{right} {y - 5}v10" class="mark"/>'


def _down(x: int, top: int, foot: int) -> str:
    return f'<path d="M{x} {top}V{foot}M{x - 5} {top}h10M{x - 5} {foot}h10" class="mark"/>'


_PICTURES = {
    "walls": f'{_BODY}<path d="M39 22v12c0 8-10 8-10 18v45h42V52c0-10-10-10-10-18V22" class="mark"/>',
    "material": f'{_BODY}<path d="M24 60l14-14M24 74l30-30M24 88l48-48M30 96l46-46M46 100l30-30" class="mark"/>',
    "shape": f'{_BODY}<path d="M34 22v10c0 8-10 8-10 18M66 22v10c0 8 10 8 10 18" class="mark"/>',
    "mouth": _BODY + _across(34, 66, 22),
    "outside": _BODY + _across(24, 76, 78),
    "foot": _CUP + _across(29, 71, 102),
    "capacity": f'{_BODY}<path d="M34 24v8c0 8-10 8-10 18v52h52V50c0-10-10-10-10-18v-8z" class="fill"/>',
    "depth": _BODY + _down(50, 22, 100),
    "height": _BODY + _down(86, 22, 102),
    "neck": _BODY + _down(50, 22, 34),
    "lid": f'{_BODY}<rect x="30" y="12" width="40" height="10" class="mark fill"/>',
    "lid_height": _BODY + _LID + _down(80, 12, 22),
    "plug": f'{_BODY}{_LID}<rect x="37" y="22" width="26" height="22" class="mark fill"/>',
    "plug_depth": _BODY + _LID + _PLUG + _down(50, 22, 44),
    "clearance": f"{_BODY}{_LID}{_PLUG}" + _across(63, 68, 36),
    "seals": f'{_BODY}{_LID}{_PLUG}<circle cx="35" cy="26" r="3" class="mark"/><circle cx="65" cy="26" r="3" '
    'class="mark"/>',
    "seal_depths": f'{_BODY}{_LID}{_PLUG}<circle cx="35" cy="38" r="3" class="mark"/><circle cx="65" cy="38" r="3" '
    'class="mark"/>' + _down(50, 22, 38),
    "hole": f'{_BODY}{_LID}<path d="M44 8v18M56 8v18" class="mark"/>',
    "hole_diameter": _BODY + _LID + _across(44, 56, 6),
    "finish": f'{_BODY}<path d="M30 56v36M36 56v36" class="mark"/>',
}


def picture(key: str) -> Markup:
    """Return the picture of a question as an `svg` element, plain decoration to a screen reader."""
    return Markup('<svg class="ask" viewBox="14 0 80 110" aria-hidden="true">{}</svg>').format(Markup(_PICTURES[key]))
