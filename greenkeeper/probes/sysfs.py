"""The only three things done to the kernel's files: follow a link, read, write.

Lives here: one seam, so that tests can put a kernel with its conversion times and its
memory behind real files. Does not live here: what the files mean.
"""

import os
from pathlib import Path
from typing import Protocol

# The kernel's attribute files hold one page at most (Documentation/filesystems/sysfs.rst).
_PAGE = 4096


class Files(Protocol):
    def real(self, path: Path) -> Path:
        """The path with every link followed. Raises OSError when nothing is there."""

    def read(self, path: Path) -> bytes:
        """The first page of it. May take long. Raises OSError."""

    def write(self, path: Path, data: bytes) -> None:
        """All of it in one call, into a file that exists. May take long. Raises OSError."""


class KernelFiles:
    def real(self, path: Path) -> Path:
        return Path(os.path.realpath(path, strict=True))  # resolve() raises others on a loop

    def read(self, path: Path) -> bytes:
        with path.open("rb") as file:
            return file.read(_PAGE)

    def write(self, path: Path, data: bytes) -> None:
        # Never create it: a missing file means that this kernel lacks the feature.
        descriptor = os.open(path, os.O_WRONLY)
        try:
            written = os.write(descriptor, data)
        finally:
            os.close(descriptor)
        if written != len(data):
            raise OSError(f"{path} took {written} of {len(data)} bytes")


def read_number(files: Files, path: Path) -> int | None:
    """The one whole number in it, or None when it is missing, unreadable or no number."""
    try:
        return int(files.read(path))
    except (OSError, ValueError):
        return None
