"""What a container is: shapes, materials, parts, files. No heat here.

    import geometries

    flask = geometries.load_container("slim_neck_double_seal")

Names are imported when they are first used. Numbers of a record are SI floats; wherever a record is made, text with a
unit ("48 mm"), a pint quantity and a plain SI number will do.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
