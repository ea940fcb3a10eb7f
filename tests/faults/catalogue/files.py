"""The small files: status, keepsakes, requests, relays; the log; and file handles."""

import errno
import io
import os
import resource
from collections.abc import Callable

from greenkeeper import files, logs
from greenkeeper.inbox import ask
from greenkeeper.model import Request
from tests.faults.fault import Fault, Heat
from tests.faults.house import BREAKS_S, LEFT, MENDS_S, OUTDOORS, RIGHT, Course, House

DEEP = "[" * 1000  # deeper than Python goes, within what the inbox reads of a file


def replacing(name: str, number: int) -> Callable[[House], None]:
    """While it lasts, replacing this small file fails as the kernel would say it."""

    def inject(house: House) -> None:
        replace = files.replace

        def instead(path: os.PathLike[str], *arguments: object, **named: object) -> None:
            if os.path.basename(path) == name and BREAKS_S <= house.clock.after_s < MENDS_S:
                raise OSError(number, os.strerror(number))
            replace(path, *arguments, **named)  # type: ignore[arg-type]

        house.patch.setattr(files, "replace", instead)

    return inject


def status_is_a_folder(house: House) -> None:
    """Nothing can replace it, and at the end nothing can remove it."""
    (house.runtime / "status.json").mkdir()


def runtime_gone(house: House) -> None:
    gone = house.runtime.with_name("gone")
    house.at(BREAKS_S, lambda: house.runtime.rename(gone))
    house.at(MENDS_S, lambda: gone.rename(house.runtime))


def keepsakes(text: str | bytes) -> Callable[[House], None]:
    def inject(house: House) -> None:
        data = text.encode() if isinstance(text, str) else text
        (house.state / "keepsakes.json").write_bytes(data)

    return inject


def kept_aside(house: House, _course: Course) -> None:
    assert (house.state / "keepsakes.damaged").is_file()


def keepsakes_cannot_be_written(house: House) -> None:
    """A latch trips and cannot be kept over a restart: it must be told, and hold all the same."""
    replacing("keepsakes.json", errno.ENOSPC)(house)

    def hot() -> None:
        house.bench.temp_c = 41.0
        house.bench.live(0.0, BREAKS_S, heated=False)

    house.at(BREAKS_S, hot)


def latched(house: House, _course: Course) -> None:
    assert house.keeper is not None
    assert "over-ceiling-bench" in house.keeper.memory.latches


def relays_list_is_a_folder(house: House) -> None:
    (house.state / "relays.json").mkdir()


def request(text: str | bytes) -> Callable[[House], None]:
    def inject(house: House) -> None:
        data = text.encode() if isinstance(text, str) else text
        house.at(BREAKS_S, lambda: (house.runtime / "requests" / "odd.json").write_bytes(data))

    return inject


def request_is_a_pipe(house: House) -> None:
    """Opening it for reading would wait for a writer for ever."""
    house.at(BREAKS_S, lambda: os.mkfifo(house.runtime / "requests" / "odd.json"))


def request_is_a_folder(house: House) -> None:
    """And a sound one behind twenty of them is heard as well."""
    for number in range(25):
        house.at(BREAKS_S, (house.runtime / "requests" / f"a-{number:02}.json").mkdir)
    house.at(BREAKS_S, lambda: ask(house.runtime, Request("no-such-latch")))


def requests_is_a_file(house: House) -> None:
    (house.runtime / "requests").write_text("in its place")


def requests_folder_gone(house: House) -> None:
    folder = house.runtime / "requests"
    house.at(BREAKS_S, folder.rmdir)
    house.at(MENDS_S, folder.mkdir)


def request_storm(house: House) -> None:
    def many() -> None:
        for number in range(1000):
            ask(house.runtime, Request(f"no-such-{number}"))

    house.at(BREAKS_S, many)


def log_closed(house: House) -> None:
    """As when whoever read the log has gone. What was written so far is kept to look at."""

    class Closing(io.StringIO):
        def write(self, text: str) -> int:
            if BREAKS_S <= house.clock.after_s < MENDS_S:
                raise BrokenPipeError(errno.EPIPE, "Broken pipe")
            return super().write(text)

    house.log = Closing()


def log_has_a_bug(house: House) -> None:
    def broken(event: object) -> None:
        raise TypeError("a bug in the log")

    def spoil() -> None:
        house.patch.setattr(logs, "tell", broken)
        house.reload()  # something to tell

    tell = logs.tell
    house.at(BREAKS_S, spoil)
    house.at(MENDS_S, house.patch.setattr, logs, "tell", tell)


def no_handles(house: House) -> None:
    """No file can be opened: not the probes', nor the status, nor the notifier's socket."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    probes = (LEFT, RIGHT, OUTDOORS)
    house.at(BREAKS_S, house.bench.hold, *probes)  # the world needs handles, too
    house.at(MENDS_S + 1.0, house.bench.let_go, *probes)
    house.at(BREAKS_S, resource.setrlimit, resource.RLIMIT_NOFILE, (3, hard))
    house.at(MENDS_S, resource.setrlimit, resource.RLIMIT_NOFILE, (soft, hard))
    house.afterwards(lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard)))


FAULTS = (
    Fault("status-is-a-folder", "a folder stands in the status file's place",
          status_is_a_folder, Heat.GOES_ON, ("status-failing", "part-failed")),
    Fault("status-no-room", "the runtime folder is full",
          replacing("status.json", errno.ENOSPC), Heat.GOES_ON, ("status-failing",)),
    Fault("runtime-folder-gone", "the runtime folder is deleted in use", runtime_gone,
          Heat.GOES_ON, ("status-failing",)),
    Fault("keepsakes-rubbish", "the latches' file is rubbish", keepsakes(bytes(range(256))),
          Heat.GOES_ON, ("keepsakes-failing",), also=kept_aside),
    Fault("keepsakes-half", "the latches' file is cut short", keepsakes('{"format": 1, "lat'),
          Heat.GOES_ON, ("keepsakes-failing",), also=kept_aside),
    Fault("keepsakes-nested", "brackets nested deeper than Python goes",
          keepsakes("[" * 100_000), Heat.GOES_ON, ("keepsakes-failing",), also=kept_aside),
    Fault("keepsakes-no-room", "a latch trips and cannot be written down",
          keepsakes_cannot_be_written, Heat.STOPS, ("keepsakes-failing", "over-ceiling"),
          may=("probe-jumped", "above-maximum", "zone-blind"), also=latched),
    Fault("relays-list-is-a-folder", "the list for `safe` cannot be written",
          relays_list_is_a_folder, Heat.GOES_ON, ("keepsakes-failing",)),
    Fault("request-rubbish", "a request of random bytes", request(bytes(range(256))),
          Heat.GOES_ON),
    Fault("request-nested", "a request of nested brackets", request(DEEP), Heat.GOES_ON),
    Fault("request-huge", "a request of a megabyte", request("{" + " " * 1_000_000 + "}"),
          Heat.GOES_ON),
    Fault("request-is-a-pipe", "a pipe among the requests", request_is_a_pipe, Heat.GOES_ON),
    Fault("request-is-a-folder", "folders among the requests", request_is_a_folder,
          Heat.GOES_ON, ("latch-kept",)),
    Fault("requests-is-a-file", "a file in place of the requests' folder", requests_is_a_file,
          Heat.GOES_ON),
    Fault("requests-folder-gone", "the requests' folder is deleted", requests_folder_gone,
          Heat.GOES_ON),
    Fault("request-storm", "a thousand requests at once", request_storm, Heat.GOES_ON,
          ("latch-kept",)),
    Fault("log-closed", "nobody reads the log any more", log_closed, Heat.GOES_ON),
    Fault("log-has-a-bug", "writing the log raises", log_has_a_bug, Heat.GOES_ON,
          ("part-failed",)),
    Fault("no-file-handles", "no file can be opened any more", no_handles, Heat.PAUSES,
          ("probe-missing", "zone-blind", "status-failing"),
          may=("probe-unreadable", "part-failed")),
)  # fmt: skip
