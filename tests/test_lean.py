"""What the keeper's libraries would import and nobody needs is left out, and is there if asked for.

The figures are tests/bench/bench_keeper.py's; here stands that it stays so.
"""

from pathlib import Path

import pytest

from tests.support.apart import run_python

# What has come in by itself before. Each is a MiB or more, with all that hangs on it.
UNASKED = {
    "asyncio",
    "email",
    "greenlet",  # comes with a tool of the tests
    "http.client",
    "importlib.metadata",
    "importlib.resources",
    "tempfile",
    "urllib.request",
    "zipfile",
    "greenkeeper.reports.words",
    # What only a fault in the settings needs.
    "greenkeeper.settings.draft",
    "greenkeeper.settings.keys",
    "greenkeeper.settings.translate",
    "greenkeeper.settings.wording",
}
EXAMPLE = Path(__file__).parents[1] / "config/small.yaml"


def test_the_keeper_loads_nothing_that_nobody_asks_for(tmp_path: Path) -> None:
    program = f"""
import sys
import greenkeeper.daemon, greenkeeper.assembly, greenkeeper.commands.run
import greenkeeper.gpio.gpiozero_lines, greenkeeper.gpio.lgpio_pins
from pathlib import Path
from greenkeeper.settings.load import load
load(Path({str(EXAMPLE)!r}))
print(*sorted({UNASKED!r} & sys.modules.keys()))
print(*sorted({{"structlog", "paho.mqtt.client", "pydantic", "gpiozero"}} - sys.modules.keys()))
"""
    assert run_python(program, tmp_path) == "\n\n"


def test_what_was_left_out_comes_when_it_is_asked_for(tmp_path: Path) -> None:
    program = """
from greenkeeper.lean import structlog
import asyncio
async def say():
    await structlog.get_logger().ainfo("hello")
asyncio.run(say())
"""
    assert "hello" in run_python(program, tmp_path)


def test_the_mqtt_library_finds_a_proxy_where_somebody_uses_one(tmp_path: Path) -> None:
    (tmp_path / "socks.py").write_text(
        "HTTP, SOCKS4, SOCKS5 = 3, 1, 2\ndef get_default_proxy(): return None\n", encoding="utf-8"
    )
    program = """
import os, sys
sys.path.insert(0, ".")
os.environ["mqtt_proxy"] = "http://127.0.0.1:3128"
from greenkeeper.broker.library import CallbackAPIVersion, mqtt
client = mqtt.Client(CallbackAPIVersion.VERSION2)
client._host = "broker.example"
print(client._get_proxy()["proxy_addr"])
"""
    assert run_python(program, tmp_path) == "127.0.0.1\n"


def test_pretend_pins_still_come_by_their_own_way(tmp_path: Path) -> None:
    program = """
from greenkeeper.gpio.gpiozero_lines import mock_backend
from gpiozero.pins.mock import MockFactory
print(type(mock_backend().claim(17, False)).__name__, MockFactory(pin_class="mockpin").pin_class)
"""
    assert run_python(program, tmp_path).startswith("GpiozeroLine <class 'gpiozero.pins.mock.Mock")


def test_no_package_beside_the_keeper_has_a_say_in_its_settings(tmp_path: Path) -> None:
    """pydantic asks every installed package whether it wants to change what is checked."""
    (tmp_path / "meddler.py").write_text("raise SystemExit('was asked')\n", encoding="utf-8")
    about = tmp_path / "meddler-1.dist-info"
    about.mkdir()
    (about / "METADATA").write_text("Metadata-Version: 2.1\nName: meddler\nVersion: 1\n", "utf-8")
    (about / "entry_points.txt").write_text("[pydantic]\nmeddler = meddler\n", "utf-8")
    asking = "import sys; sys.path.insert(0, '.')\n{}from pydantic import BaseModel\n{}"
    model = "class Any(BaseModel):\n    a: int\nprint(Any(a=1).a)"
    assert run_python(asking.format("import greenkeeper.settings\n", model), tmp_path) == "1\n"
    with pytest.raises(AssertionError, match="was asked"):  # or pydantic no longer asks
        run_python(asking.format("", model), tmp_path)
