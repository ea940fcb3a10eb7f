"""The log library, without what nobody here ever calls of it.

Lives here: importing structlog so that its `import asyncio` costs nothing. It asks for that
on behalf of its asynchronous methods, and asyncio takes 1.7 MiB of the keeper's memory
(tests/bench/bench_keeper.py). Does not live here: how lines look (logs.py).
Everybody imports structlog from here, because the first import decides.
"""

import importlib
import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any


class _Promised(ModuleType):
    """Stands for a module that is imported once something of it is asked for."""

    def __getattr__(self, name: str) -> Any:
        self.withdraw()
        return getattr(importlib.import_module(self.__name__), name)

    def withdraw(self) -> None:
        """Leave the place to the true one."""
        if sys.modules.get(self.__name__) is self:
            del sys.modules[self.__name__]


def imported(name: str, without: str) -> ModuleType:
    """The module `name`, with no more than a promise of another one that it imports."""
    if name in sys.modules or without in sys.modules:
        return importlib.import_module(name)
    promised = _Promised(without)
    sys.modules[without] = promised
    try:
        return importlib.import_module(name)
    finally:
        promised.withdraw()


if TYPE_CHECKING:
    import structlog as structlog
else:
    structlog = imported("structlog", without="asyncio")
