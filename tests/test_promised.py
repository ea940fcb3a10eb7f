"""A library comes without what it imports and never calls, and with it if it calls it after all."""

from pathlib import Path

import pytest

from tests.support.apart import run_python


@pytest.mark.parametrize(
    "needs", ["from needed import VALUE", "import needed\nVALUE = needed.VALUE", "VALUE = 1"]
)
def test_a_library_that_needs_it_at_once_gets_it_at_once(tmp_path: Path, needs: str) -> None:
    (tmp_path / "library.py").write_text(f"import needed\n{needs}\n", encoding="utf-8")
    (tmp_path / "needed.py").write_text("VALUE = 1\n", encoding="utf-8")
    program = """
import sys
sys.path.insert(0, ".")
from greenkeeper.promised import imported
library = imported("library", without=["needed"])
import needed
print(library.VALUE, needed.VALUE, needed.__file__.endswith("needed.py"))
"""
    assert run_python(program, tmp_path) == "1 1 True\n"


@pytest.mark.parametrize(
    ("takes", "asks"),
    [
        ("import house.cellar", "house.cellar.WINE"),
        ("from house import cellar", "cellar.WINE"),
    ],
)
def test_a_module_of_a_package_comes_once_it_is_asked_for(
    tmp_path: Path, takes: str, asks: str
) -> None:
    (tmp_path / "house").mkdir()
    (tmp_path / "house/__init__.py").write_text("", encoding="utf-8")
    (tmp_path / "house/cellar.py").write_text("WINE = 3\n", encoding="utf-8")
    source = f"{takes}\ndef drink():\n    return {asks}\n"
    (tmp_path / "library.py").write_text(source, encoding="utf-8")
    program = """
import sys
sys.path.insert(0, ".")
from greenkeeper.promised import imported
library = imported("library", without=["house.cellar"])
print("house.cellar" in sys.modules, library.drink(), "house.cellar" in sys.modules)
"""
    assert run_python(program, tmp_path) == "False 3 True\n"


def test_what_is_given_instead_is_all_that_comes(tmp_path: Path) -> None:
    (tmp_path / "library.py").write_text("from needed import answer\n", encoding="utf-8")
    (tmp_path / "needed.py").write_text("def answer(): return 1\n", encoding="utf-8")
    program = """
import sys
sys.path.insert(0, ".")
from greenkeeper.promised import imported
library = imported("library", without=["needed"], instead={"answer": lambda: 2})
print(library.answer(), "needed" in sys.modules)
"""
    assert run_python(program, tmp_path) == "2 False\n"


def test_what_is_to_be_absent_is_so_for_that_library_alone(tmp_path: Path) -> None:
    (tmp_path / "library.py").write_text(
        "try:\n    import extra\nexcept ImportError:\n    extra = None\n", encoding="utf-8"
    )
    (tmp_path / "extra.py").write_text("VALUE = 1\n", encoding="utf-8")
    program = """
import sys
sys.path.insert(0, ".")
from greenkeeper.promised import imported
library = imported("library", without=[], absent=["extra"])
import extra
print(library.extra, extra.VALUE)
"""
    assert run_python(program, tmp_path) == "None 1\n"


def test_a_library_that_fails_leaves_no_promise_behind(tmp_path: Path) -> None:
    program = """
import sys
from greenkeeper.promised import imported
try:
    imported("no_such_library", without=["needed"])
except ModuleNotFoundError as error:
    print(error.name, "needed" in sys.modules)
"""
    assert run_python(program, tmp_path) == "no_such_library False\n"
