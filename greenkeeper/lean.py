"""The log library, without what nobody here ever calls of it.

Lives here: importing structlog so that its `import asyncio` costs nothing. It asks for that
on behalf of its asynchronous methods, and asyncio takes 1.7 MiB of the keeper's memory
(tests/bench/bench_keeper.py). What it would use where it finds it (rich, greenlet) it does not
find: more memory, and lines that look otherwise on another machine. Does not live here: how
lines look (logs.py).
Everybody imports structlog from here, because the first import decides.
"""

from typing import TYPE_CHECKING

from greenkeeper.promised import imported

if TYPE_CHECKING:
    import structlog as structlog
else:
    structlog = imported(
        "structlog", without=["asyncio"], absent=["better_exceptions", "greenlet", "rich"]
    )
