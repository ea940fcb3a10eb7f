"""How a file system counts what is written to it, for those who measure card writes.

/proc/PID/io counts in pages of 4 KiB (proc(5), write_bytes), but newer kernels keep a file in
larger pieces where they can (ext4 since Linux 6.16), and one byte then counts as the whole
piece. A kernel that does so tells more than the card has to bear.
"""

import os
import tempfile

PAGE_BYTES = os.sysconf("SC_PAGE_SIZE")
_PIECE_BYTES = 8 * PAGE_BYTES


def written_bytes(process: int | str = "self") -> int:
    """What this process has sent to a disk so far."""
    with open(f"/proc/{process}/io", encoding="ascii") as file:
        return next(int(line.split()[1]) for line in file if line.startswith("write_bytes:"))


def remark(folder: str | os.PathLike[str] | None) -> str | None:
    """What has to be said of figures taken in this folder; None: they are good."""
    with tempfile.TemporaryFile(dir=folder) as file:
        file.write(bytes(_PIECE_BYTES))
        file.flush()
        os.sync()
        before = written_bytes()
        file.seek(0)
        file.write(b"x")
        file.flush()
        pages = (written_bytes() - before) / PAGE_BYTES
    if pages == 0:
        return "nothing written here is counted: a file system in memory?"
    if pages > 1:
        return f"one byte counts as {pages:.0f} pages here: the figures of card writes are too high"
    return None
