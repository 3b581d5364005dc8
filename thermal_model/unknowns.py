"""What a ruler can't see, as multipliers on what the model would otherwise assume.

A value of 1 is the model's own best guess; `uncertainty` says how far each may be off.
"""

from dataclasses import dataclass, fields

from geometries.numeric import Numeric


@dataclass(frozen=True)
class Unknowns:
    """Multipliers, each a float or an (n,) array of lanes.

    Attributes
    ----------
    exterior_film, base_film, headspace_film, wetted_film : float or (n,) array
        Heat transfer coefficients outside, under the base, in the headspace, in the liquid.
    open_surface : float or (n,) array
        Evaporation and convection from contents that nothing covers.
    draught : float or (n,) array
        Speed of the room's air.
    annulus_exchange : float or (n,) array
        Turnover of vapour in the clearance between plug and neck.
    lid_contact : float or (n,) array
        Contact between lid and lip.
    lid_leak : float or (n,) array
        Exchange through vents and holes.
    lid_gap : float or (n,) array
        Gap under a lid without a seal.
    gap_emissivity, gap_pressure, gap_conduction : float or (n,) array
        Radiation across the gap; residual gas in a vacuum; conductivity of foam or filling gas.
    exterior_emissivity : float or (n,) array
        Of the outside.
    wall_conductivity, layer_conductivity : float or (n,) array
        Of the wall's material; of lid and plug.
    wall_thickness : float or (n,) array
        Of the steel along neck and lip.
    """

    exterior_film: Numeric = 1.0
    base_film: Numeric = 1.0
    headspace_film: Numeric = 1.0
    wetted_film: Numeric = 1.0
    open_surface: Numeric = 1.0
    draught: Numeric = 1.0
    annulus_exchange: Numeric = 1.0
    lid_contact: Numeric = 1.0
    lid_leak: Numeric = 1.0
    lid_gap: Numeric = 1.0
    gap_emissivity: Numeric = 1.0
    gap_pressure: Numeric = 1.0
    gap_conduction: Numeric = 1.0
    exterior_emissivity: Numeric = 1.0
    wall_conductivity: Numeric = 1.0
    layer_conductivity: Numeric = 1.0
    wall_thickness: Numeric = 1.0


UNKNOWN_NAMES = tuple(f.name for f in fields(Unknowns))

USUAL_WIDTHS = {
    "wall_conductivity": 0.04,
    "layer_conductivity": 0.15,
    "gap_conduction": 0.1,
    "gap_emissivity": 0.35,
    "exterior_emissivity": 0.15,
}
"""Standard deviations of the logarithm, where a design may give its own spread; `uncertainty.PRIORS` says why. [-]"""

GUESSED = Unknowns()
"""Every unknown at the model's own guess."""
