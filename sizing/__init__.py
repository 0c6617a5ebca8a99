"""The sizing face: the engineering of a vehicle's solar system, pure and in SI units.

Ask :func:`size_system` for a whole design; the other names answer single questions. Conventions: every
number with a dimension ends in its unit, fractions are 0 to 1, a wire's length is one way, ``None`` is "not
known" and never passes, a bad design is an answer (:class:`Check`) and not an error.

The file ``__init__.pyi`` lists them. They are loaded when first used, so that importing the face costs next
to nothing; pvlib, pandas, SciPy and numba are only loaded by the functions that need them. README.md beside
this file lists each method with its source.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
