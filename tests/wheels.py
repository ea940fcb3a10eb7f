"""Is there a ready-made wheel of everything that is installed, for each board and Python?

Prints a table: first what every keeper needs, then what each extra adds to that. Downloads
into a folder that is thrown away, installs nothing. Not part of `make test`: the answer is the
package index's, and changes without us.

Run: python -m tests.wheels [extra ...], or `make wheels ARGS="page alarms"`; without a name, all
extras. It takes some minutes. pip's own settings count: Raspberry Pi OS sets up a further index
with 32-bit wheels, and PIP_EXTRA_INDEX_URL does so elsewhere.
Exit code 1: something lacks, and hardware-notes/wiring.md, section 7, says what to do.
"""

import re
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from importlib.metadata import PackageNotFoundError, requires
from itertools import repeat
from pathlib import Path
from typing import Any, NamedTuple

from packaging.requirements import Requirement

PROJECT = Path(__file__).parents[1]
KEEPER = "every keeper"
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


def project() -> dict[str, Any]:
    text = (PROJECT / "pyproject.toml").read_text(encoding="utf-8")
    found: dict[str, Any] = tomllib.loads(text)["project"]
    return found


def groups(named: Sequence[str]) -> dict[str, list[str]]:
    """What is asked for, for every keeper and by each of these extras; none named: by all."""
    listed: dict[str, list[str]] = project()["optional-dependencies"]
    extras = {name: asks for name, asks in listed.items() if name not in ("pi", "dev")}
    unknown = sorted(set(named) - set(extras))
    if unknown:
        raise SystemExit(f"no extra {', '.join(unknown)}; there are {', '.join(extras)}")
    keeper = {KEEPER: [*project()["dependencies"], *listed["pi"]]}
    return keeper | {name: extras[name] for name in sorted(named or extras)}


def wanted(case: Case, asked: Sequence[str]) -> dict[str, Requirement]:
    """What is installed there, and what that needs in turn, by name."""
    waiting = [*asked]
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


class Answer(NamedTuple):
    group: str
    name: str
    told: dict[Case, str]  # a version, 'none', or '-' where not needed


def answers(folder: Path, asking: Mapping[str, Sequence[str]]) -> Iterator[Answer]:
    """Package by package, each under the first that needs it."""
    seen: set[str] = set()
    with ThreadPoolExecutor(4) as pool:
        for group, asked in asking.items():
            lists = {case: wanted(case, asked) for case in CASES}
            names = {name for each in lists.values() for name in each} - seen
            seen |= names
            for name in sorted(names):
                needing = {case: lists[case][name] for case in CASES if name in lists[case]}
                got = pool.map(wheel, needing.values(), needing, repeat(folder))
                told = dict.fromkeys(CASES, "-")
                for case, file in zip(needing, got, strict=True):
                    told[case] = "none" if file is None else file.split("-")[1]
                yield Answer(group, name, told)


def main() -> int:
    asking = groups(sys.argv[1:])
    print(f"{'':<20}" + "".join(f"{case.board:>9}" for case in CASES))
    print(f"{'':<20}" + "".join(f"{case.python:>9}" for case in CASES))
    lacking: dict[str, None] = {}  # in the order found
    with tempfile.TemporaryDirectory() as folder:
        group = ""
        for answer in answers(Path(folder), asking):
            if answer.group != group:
                group = answer.group
                print(f"-- {group if group == KEEPER else f'extra {group}, besides'}")
            cells = (f"{_short(answer.told[case]):>9}" for case in CASES)
            print(f"{answer.name:<20}{''.join(cells)}", flush=True)
            if "none" in answer.told.values():
                lacking[group] = None
    if lacking:
        print(f"\nnone: it would be built there, or not at all ({', '.join(lacking)}).")
        print("What to do: hardware-notes/wiring.md, section 7")
    return 1 if lacking else 0


def _short(version: str) -> str:
    return version if len(version) < 9 else f"{version[:7]}…"


if __name__ == "__main__":
    sys.exit(main())
