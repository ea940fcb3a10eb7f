"""Makes clean Debian roots, boots each under its own systemd, and walks it through.

Lives here: making a root, booting it, and telling what came of the walk. Does not live
here: the walk itself: walk, and timers, which it reads, are scripts inside.

Run as root: python -m tests.roots [bookworm] [trixie]
The bare roots are kept in ROOTS (default /var/cache/greenkeeper-roots) for the next time.
SSL_CERT_FILE, where it is set, counts inside as well.
"""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

PROJECT = Path(__file__).parents[2]
SUITES = ("bookworm", "trixie")  # Debian 12 and 13
PACKAGES = "python3,python3-venv,systemd,systemd-sysv,udev,dbus,ca-certificates,make"
LONGEST_S = 1200.0
ROOTS = Path(os.environ.get("ROOTS", "/var/cache/greenkeeper-roots"))

UNIT = """\
[Unit]
After=basic.target
[Service]
Type=oneshot
ExecStart=/roots/walk
StandardOutput=file:/walk.out
StandardError=file:/walk.out
ExecStopPost=/bin/systemctl --no-block poweroff
[Install]
WantedBy=multi-user.target
"""
ANSWERS = """\
cautions: read
site: {name: lean-to}
probes: {bench: 28-0316a2795a01}
outputs: {heater: {pin: 17, power_w: 1500}}
zones: {bench: {probes: [bench], heater: heater}}
plants: [{name: lemon, zone: bench, min_c: 5}]
"""


def main() -> int:
    missing = [name for name in ("debootstrap", "systemd-nspawn") if shutil.which(name) is None]
    if os.geteuid() != 0 or missing:
        print(
            "this needs root, and the packages debootstrap and systemd-container", file=sys.stderr
        )
        return 2
    suites = sys.argv[1:] or SUITES
    return 0 if all([walk(suite) for suite in suites]) else 1


def walk(suite: str) -> bool:
    """Whether every step went well; the steps are printed."""
    root = ROOTS / f"{suite}-at-work"
    shutil.rmtree(root, ignore_errors=True)
    print(f"== Debian {suite}: making its root", flush=True)
    run("cp", "-a", "--reflink=auto", str(bare(suite)), str(root))
    furnish(root)
    print(f"== Debian {suite}: some minutes in it", flush=True)
    began_s = time.monotonic()
    booted = subprocess.run(
        ["systemd-nspawn", "--quiet", "--register=no", "--keep-unit", "--boot", "-D", str(root)],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
    )
    told = (root / "walk.out").read_text(encoding="utf-8") if (root / "walk.out").exists() else ""
    print(told or f"it did not boot:\n{booted.stdout[-2000:]}{booted.stderr[-2000:]}")
    print(f"== Debian {suite}: {time.monotonic() - began_s:.0f} s", flush=True)
    whole = told.splitlines()[-1:] == ["done"]
    if whole:
        shutil.rmtree(root)
    return whole


def bare(suite: str) -> Path:
    """The suite as it comes, made once."""
    root = ROOTS / suite
    if not root.exists():
        ROOTS.mkdir(parents=True, exist_ok=True)
        half = ROOTS / f"{suite}-half-made"
        shutil.rmtree(half, ignore_errors=True)
        run("debootstrap", "--variant=minbase", f"--include={PACKAGES}", suite, str(half))
        half.rename(root)
    return root


def furnish(root: Path) -> None:
    """The checkout, the walk, and a unit that starts it."""
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=PROJECT, capture_output=True, check=True, text=True
    ).stdout
    for name in filter(None, listed.split("\0")):
        copy = root / "src" / name
        copy.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(PROJECT / name, copy)
    (root / "roots").mkdir()
    for name in ("walk", "timers"):
        shutil.copy(PROJECT / "tests/roots" / name, root / "roots" / name)
    (root / "roots/answers.yaml").write_text(ANSWERS, encoding="utf-8")
    certificates = os.environ.get("SSL_CERT_FILE")
    if certificates:
        shutil.copy(certificates, root / "roots/certificates.pem")
        (root / "etc/pip.conf").write_text("[global]\ncert = /roots/certificates.pem\n")
    units = root / "etc/systemd/system"
    (units / "walk.service").write_text(UNIT, encoding="utf-8")
    wants = units / "multi-user.target.wants"
    wants.mkdir(parents=True, exist_ok=True)
    (wants / "walk.service").symlink_to("../walk.service")


def run(*words: str) -> None:
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL)


if __name__ == "__main__":
    sys.exit(main())
