"""What the log library would import and nobody needs is left out, and is there if asked for."""

from pathlib import Path

import pytest

from tests.support.apart import run_python


def test_the_keeper_loads_no_asyncio(tmp_path: Path) -> None:
    program = """
import sys
import greenkeeper.daemon, greenkeeper.assembly, greenkeeper.alarms.desk
print("asyncio" in sys.modules, "structlog" in sys.modules)
"""
    assert run_python(program, tmp_path) == "False True\n"


def test_what_was_left_out_comes_when_it_is_asked_for(tmp_path: Path) -> None:
    program = """
from greenkeeper.lean import structlog
import asyncio
async def say():
    await structlog.get_logger().ainfo("hello")
asyncio.run(say())
"""
    assert "hello" in run_python(program, tmp_path)


@pytest.mark.parametrize(
    "needs", ["from needed import VALUE", "import needed\nVALUE = needed.VALUE", "VALUE = 1"]
)
def test_a_library_that_needs_it_at_once_gets_it_at_once(tmp_path: Path, needs: str) -> None:
    (tmp_path / "library.py").write_text(f"import needed\n{needs}\n", encoding="utf-8")
    (tmp_path / "needed.py").write_text("VALUE = 1\n", encoding="utf-8")
    program = """
import sys
sys.path.insert(0, ".")
from greenkeeper.lean import imported
library = imported("library", without="needed")
import needed
print(library.VALUE, needed.VALUE, needed.__file__.endswith("needed.py"))
"""
    assert run_python(program, tmp_path) == "1 1 True\n"
