"""Python that knows nothing of the tests that ran before."""

import subprocess
import sys
from pathlib import Path


def run_python(program: str, folder: Path) -> str:
    """What a program says on a fresh interpreter; it must end well."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", program],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout
