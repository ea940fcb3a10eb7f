"""Prints what the page costs on a journal of ten years: time, size and memory.

Not a test: it judges nothing. The budgets are issue 8's: first byte 100 ms, 60 kB with all
that belongs to it, 70 MiB resident.

Run: python -m tests.bench.bench_page
"""

import contextlib
import http.client
import socket
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

import psutil

from tests.bench.bench_nights import ten_years
from tests.page import house as houses
from tests.page.house import House
from tests.page.test_server import running

ASKED = 30
CROWD = 200


def _ask(port: int, path: str) -> tuple[float, int]:
    """Seconds to the first byte, and bytes."""
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=60.0)
    began_s = time.perf_counter()
    link.request("GET", path)
    answer = link.getresponse()
    first_s = time.perf_counter() - began_s
    size = len(answer.read())
    link.close()
    return first_s, size


def _crowd(port: int) -> None:
    """So many who ask for the page at once, and as many who never finish asking."""
    links = []
    for i in range(CROWD):
        with contextlib.suppress(OSError):
            link = socket.create_connection(("127.0.0.1", port))
            link.sendall(b"GET / HTTP/1.1\r\nHost: shed\r\n" + (b"\r\n" if i % 2 else b""))
            links.append(link)
    time.sleep(5.0)
    for link in links:
        link.close()


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        house = House(Path(folder))
        evening = datetime.now(UTC).date() - timedelta(days=1)
        ten_years(house.journal, evening)
        house.write_status(houses.status(house, at_utc_s=time.time()))
        house.write_outlooks(*(houses.outlook(days_ago=days) for days in range(30)))
        size_mb = house.journal.stat().st_size / 1e6
        print(f"a journal of ten years, {size_mb:.0f} MB")
        with running(house) as (process, url):
            port = int(url.rstrip("/").rpartition(":")[2])
            alive = psutil.Process(process.pid)

            def resident() -> str:
                return f"{alive.memory_info().rss / 2**20:.1f} MiB"

            assets = sum(_ask(port, f"/{name}")[1] for name in ("page.css", "page.js", "icon.svg"))
            print(f"{'the very first page':<34}{1000.0 * _ask(port, '/')[0]:>8.0f} ms")
            for path in ("/", "/history", "/history?view=winter", "/outlook", "/season"):
                if path == "/season":
                    _ask(port, path)
                    time.sleep(5.0)  # worked out once, in the background
                found = [_ask(port, path) for _ in range(ASKED)]
                first_ms = 1000.0 * median(first_s for first_s, _ in found)
                kb = (found[0][1] + assets) / 1000.0
                print(
                    f"{path:<34}{first_ms:>8.0f} ms to the first byte   budget 100"
                    f"{kb:>8.1f} kB   budget 60"
                )
            print(f"{'resident':<34}{resident():>11}   budget 70")
            _crowd(port)
            print(f"{f'resident after {CROWD} callers at once':<34}{resident():>11}")


if __name__ == "__main__":
    main()
