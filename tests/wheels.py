"""Is there a ready-made wheel of everything that is installed, for each board and Python?

Prints a table; downloads into a folder that is thrown away, installs nothing. Not part of
`make test`: the answer is the package index's, and changes without us.

Run: python -m tests.wheels [extra ...], or `make wheels ARGS="page alarms"`; without an extra,
what every keeper needs. pip's own settings count: Raspberry Pi OS sets up a further index with
32-bit wheels, and PIP_EXTRA_INDEX_URL does so elsewhere.
Exit code 1: something lacks, and hardware-notes/wiring.md, section 7, says what to do.
"""

import re
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from importlib.metadata import PackageNotFoundError, requires
from pathlib import Path
from typing import NamedTuple

from packaging.requirements import Requirement

PROJECT = Path(__file__).parents[1]
PYTHONS = ("3.11", "3.13")  # Debian 12 and 13
# As pip names them, the newest C library first that Debian 12 has (2.36).
_MANYLINUX = ("manylinux_2_36", "manylinux_2_34", "manylinux_2_31", "manylinux_2_28")
BOARDS = {
    "armv6": ("armv6l", "linux_armv6l"),
    "armv7": ("armv7l", "linux_armv7l"),
    "aarch64": ("aarch64", "linux_aarch64"),
}


class Case(NamedTuple):
    board: str
    python: str

    @property
    def platforms(self) -> list[str]:
        machine, plain = BOARDS[self.board]
        many = [f"{each}_{machine}" for each in (*_MANYLINUX, "manylinux_2_17", "manylinux2014")]
        return [*many, plain]

    def needs(self, requirement: Requirement) -> bool:
        machine = BOARDS[self.board][0]
        there = {"python_version": self.python, "python_full_version": f"{self.python}.2"}
        there |= {"platform_machine": machine, "sys_platform": "linux", "extra": ""}
        return requirement.marker is None or requirement.marker.evaluate(there)


CASES = [Case(board, python) for board in BOARDS for python in PYTHONS]


def wanted(case: Case, extras: Sequence[str]) -> dict[str, Requirement]:
    """What is installed there, and what that needs in turn, by name."""
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    waiting = [*project["dependencies"]]
    for extra in ("pi", *extras):
        waiting += project["optional-dependencies"][extra]
    found: dict[str, Requirement] = {}
    while waiting:
        requirement = Requirement(waiting.pop(0))
        name = re.sub(r"[-_.]+", "-", requirement.name).lower()
        if name not in found and case.needs(requirement):
            found[name] = requirement
            waiting += _in_turn(name)
    return found


def _in_turn(name: str) -> list[str]:
    try:
        return requires(name) or []
    except PackageNotFoundError:  # not for this machine: the few of these need nothing more
        return []


def wheel(requirement: Requirement, case: Case, folder: Path) -> str | None:
    """The file that pip would take; None: it would have to build one."""
    into = folder / f"{requirement.name}-{case.board}-{case.python}"
    words = ["--platform=" + each for each in case.platforms]
    text = f"{requirement.name}{requirement.specifier}"
    done = subprocess.run(
        [
            *(sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check"),
            *(
                "--no-deps",
                "--only-binary=:all:",
                f"--dest={into}",
                f"--python-version={case.python}",
            ),
            *("--implementation=cp", *words, text),
        ],
        capture_output=True,
        text=True,
    )
    if done.returncode == 0:
        return next(into.iterdir()).name
    if "No matching distribution" not in done.stderr:
        raise SystemExit(f"pip could not answer for {text}:\n{done.stderr}")
    return None


def answers(folder: Path, extras: Sequence[str]) -> Iterator[tuple[str, dict[Case, str]]]:
    """Package by package, what each case gets: a version, 'none', or '-' where not needed."""
    lists = {case: wanted(case, extras) for case in CASES}
    names = sorted({name for each in lists.values() for name in each})
    with ThreadPoolExecutor(4) as pool:
        for name in names:
            needing = [case for case in CASES if name in lists[case]]
            got = pool.map(lambda case: wheel(lists[case][name], case, folder), needing)  # noqa: B023
            told = dict.fromkeys(CASES, "-")
            for case, file in zip(needing, got, strict=True):
                told[case] = "none" if file is None else file.split("-")[1]
            yield name, told


def main() -> int:
    print(f"{'':<20}" + "".join(f"{case.board:>9}" for case in CASES))
    print(f"{'':<20}" + "".join(f"{case.python:>9}" for case in CASES))
    lacking = 0
    with tempfile.TemporaryDirectory() as folder:
        for name, told in answers(Path(folder), sys.argv[1:]):
            print(f"{name:<20}" + "".join(f"{told[case]:>9}" for case in CASES), flush=True)
            lacking += sum(each == "none" for each in told.values())
    if lacking:
        print("\nnone: it would be built there, or not at all: hardware-notes/wiring.md, section 7")
    return 1 if lacking else 0


if __name__ == "__main__":
    sys.exit(main())
