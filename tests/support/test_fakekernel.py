"""The stand-ins for lgpio and gpiod have the shape of the real libraries."""

import ast
import importlib.metadata
import importlib.util
import inspect
from pathlib import Path
from types import FunctionType

import gpiod

from tests.support.fakekernel import FakeKernel, gpiod_on, lgpio_on


def test_lgpios_stand_in_has_the_real_functions_with_their_arguments(tmp_path: Path) -> None:
    spec = importlib.util.find_spec("lgpio")
    if spec is None or spec.origin is None:
        # None exists for this Python; the shape was checked where there is one.
        assert "lgpio" not in importlib.metadata.packages_distributions()
        return
    # Read, not imported: importing it starts a thread and makes a FIFO.
    tree = ast.parse(Path(spec.origin).read_text(encoding="utf-8"))
    real = {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}
    stand_in = lgpio_on(FakeKernel(tmp_path))
    functions = [f for f in vars(stand_in).values() if isinstance(f, FunctionType)]
    assert len(functions) == 8
    for function in functions:
        most = len(real[function.__name__].args.args)
        least = most - len(real[function.__name__].args.defaults)
        ours = inspect.signature(function).parameters.values()
        assert len(ours) == most, function.__name__
        assert sum(p.default is p.empty for p in ours) == least, function.__name__
    names = {"GPIO_BUSY", "SET_PULL_UP", "SET_PULL_DOWN", "SET_PULL_NONE"}
    numbers = {
        node.targets[0].id: ast.literal_eval(node.value)
        for node in tree.body
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
        if node.targets[0].id in names
    }
    assert numbers == {name: vars(stand_in)[name] for name in names}


def test_gpiods_stand_in_has_the_real_names_and_arguments(tmp_path: Path) -> None:
    stand_in = gpiod_on(FakeKernel(tmp_path))
    ours = set(inspect.signature(stand_in.request_lines).parameters)
    assert ours <= set(inspect.signature(gpiod.request_lines).parameters)
    real_settings = inspect.signature(gpiod.LineSettings).parameters
    assert set(stand_in.LineSettings._fields) <= set(real_settings)
    for name in ("Value", "Direction", "Bias"):
        theirs = getattr(gpiod.line, name).__members__
        assert set(getattr(stand_in.line, name).__members__) <= set(theirs)
    info = inspect.signature(gpiod.ChipInfo).parameters
    assert {"label", "num_lines"} <= set(info)
    for name in ("set_value", "get_value", "release"):
        assert callable(getattr(gpiod.LineRequest, name))
