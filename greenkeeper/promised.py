"""A library without those of its imports that nobody here ever calls.

Lives here: importing one module while another that it imports is only promised. What
that saves the keeper is measured by tests/bench/bench_keeper.py and listed in
DEVELOPERS.md. Does not live here: which libraries (lean.py, broker/library.py,
settings/basics.py).

The first import of a library decides, so everybody takes it from the module that spares
something of it. Should a later version of the library need the spared module after all, it
gets it: then nothing is saved, and nothing is broken.
"""

import importlib
import sys
from collections.abc import Collection, Mapping
from types import ModuleType
from typing import Any


class _Promised(ModuleType):
    """Stands for a module that is imported once something of it is asked for."""

    def __init__(self, name: str, instead: Mapping[str, object]) -> None:
        super().__init__(name)
        self.__dict__.update(instead)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):  # Python's own `import` asks, for __path__, before it gives
            raise AttributeError(name)
        self.withdraw()
        return getattr(importlib.import_module(self.__name__), name)

    def withdraw(self) -> None:
        """Leave the place to the true one."""
        if sys.modules.get(self.__name__) is self:
            del sys.modules[self.__name__]


def imported(
    name: str,
    *,
    without: Collection[str],
    instead: Mapping[str, object] | None = None,
    absent: Collection[str] = (),
) -> ModuleType:
    """The module `name`, with no more than a promise of others that it imports.

    instead: what `name` is given at once when it takes these out of the others.
    absent: what it would make use of where it happens to be installed, and is not to find.
    Raises ImportError, if there is no module `name`.
    """
    if name in sys.modules:
        return sys.modules[name]
    promises = [_Promised(each, instead or {}) for each in without if each not in sys.modules]
    for promised in promises:
        sys.modules[promised.__name__] = promised
        _hang_on_package(promised)
    hidden = [each for each in absent if each not in sys.modules]
    for each in hidden:
        # Python's own word for "there is no such module" (sys.modules in its reference).
        sys.modules[each] = None  # type: ignore[assignment] # typeshed knows modules only
    try:
        return importlib.import_module(name)
    finally:
        for promised in promises:
            promised.withdraw()
        for each in hidden:
            del sys.modules[each]


def _hang_on_package(module: ModuleType) -> None:
    """What importing a module does for `import a.b; a.b.c` and for `from a import b`."""
    package, _, last = module.__name__.rpartition(".")
    if package:
        setattr(importlib.import_module(package), last, module)
