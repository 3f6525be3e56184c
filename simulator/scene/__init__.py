"""What stands in the world: scene files and their models, materials, air, geometry.

The names of `__init__.pyi` are loaded on first use.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
