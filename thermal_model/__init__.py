"""How long an insulated drink container keeps its contents hot or cold, and why.

    import thermal_model as tm

    flask = tm.load_container("slim_neck_double_seal")
    tea = tm.Scenario(contents="tea", fill="500 mL", start="90 C", room=293.15)
    print(tm.predict(flask, tea, until="60 C"))

A quantity is text with a unit ("60 C", "500 mL"), a pint quantity, or a plain number in SI units (kelvin, m3); results
are plain numbers in SI units. Bad input raises `InputError`, one line for each problem. Names are imported when they
are first used. A prediction is no food-safety record, and hot contents scald; see `cautions`.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
