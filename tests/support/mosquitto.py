"""A real Mosquitto for tests, on loopback ports of its own.

    with Mosquitto(tmp_path) as broker, broker.recorder() as recorder:
        ...                                  # let something talk to 127.0.0.1:broker.port
        recorder.wait_for("homie/5/orchard-house/$state", "ready")
        assert broker.retained()["homie/5/orchard-house/$state"] == "ready"

`port` is the listener under test: users, access list and TLS apply there. A second
listener, open to all, is for the test's own eyes and hands (recorder, retained,
publish), which are Mosquitto's own command-line clients and so share no code with the
client being tested. Without Mosquitto installed these tests fail, they never skip: a
green run must mean that a real broker was there.
"""

import getpass
import itertools
import json
import shutil
import signal
import socket
import subprocess
import threading
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import IO, NamedTuple, Self

from tests.support.authority import Certificate
from tests.support.waiting import eventually

_NUMBERS = itertools.count(1)


def _command(name: str) -> str:
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/local/sbin")
    if found is None:
        raise AssertionError(
            f"the command {name!r} is not installed, and these tests need a real broker: "
            "on Debian, apt-get install mosquitto mosquitto-clients"
        )
    return found


def free_port() -> int:
    """A loopback port that nobody listens on at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Record(NamedTuple):
    """One message as a subscriber that keeps the publisher's retain flag saw it."""

    topic: str
    payload: str
    qos: int
    retain: bool


class Mosquitto:
    """One broker. Its ports stay the same over stop and start."""

    def __init__(
        self,
        folder: Path,
        *,
        users: Mapping[str, str] | None = None,
        access: str | None = None,
        tls: Certificate | None = None,
        persistent: bool = False,
        lines: Sequence[str] = (),
        top_lines: Sequence[str] = (),
        socket_file: Path | None = None,
    ) -> None:
        """users: name -> password; None lets everybody in. access: an ACL file's text.

        persistent: the store survives stop() (not kill()). lines: further configuration
        of the listener under test; top_lines: of the broker, such as "max_packet_size 2000".
        socket_file: the listener under test is this file instead of a port.
        """
        folder.mkdir(parents=True, exist_ok=True)
        self._folder = folder
        self._access = access
        self._tls = tls
        self._persistent = persistent
        self._lines = tuple(lines)
        self._top_lines = tuple(top_lines)
        self._socket_file = socket_file
        self._process: subprocess.Popen[bytes] | None = None
        self._users = None if users is None else dict(users)
        self.port = free_port()
        self._own_port = free_port()
        self._log_file = folder / "mosquitto.log"
        self._log_file.touch()
        self._write_users()

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()

    # --- life ------------------------------------------------------------------------

    def start(self) -> None:
        """Start it and wait until it listens."""
        assert self._process is None, "already running"
        config = self._folder / "mosquitto.conf"
        config.write_text("\n".join(self._configuration()) + "\n", encoding="utf-8")
        before = len(self.log())
        with self._log_file.open("ab") as log:
            self._process = subprocess.Popen(
                [_command("mosquitto"), "-c", str(config)], stdout=log, stderr=log
            )
        eventually(lambda: self._came_up(before), "mosquitto does not start")

    def stop(self) -> None:
        """End it as a service manager would; it says goodbye to its clients."""
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        """End it as a power cut would. Safe to call when it is not running."""
        if self._process is not None:
            self._end(signal.SIGKILL)

    def restart(self) -> None:
        """Stop and start on the same ports; unless persistent, its store is empty then."""
        self.stop()
        self.start()

    def freeze(self) -> None:
        """Alive but answering nothing, until thaw(). New connections are still accepted
        by the kernel, which is what makes this fault nasty."""
        self._signal(signal.SIGSTOP)

    def thaw(self) -> None:
        self._signal(signal.SIGCONT)

    def set_users(self, users: Mapping[str, str]) -> None:
        """Change the passwords of a broker that was made with users."""
        assert self._users is not None, "made without users: everybody may come in"
        self._users = dict(users)
        self._write_users()
        if self._process is not None:
            self._signal(signal.SIGHUP)

    def set_access(self, access: str) -> None:
        """Change the access list of a broker that was made with one."""
        assert self._access is not None, "made without an access list"
        self._access = access
        (self._folder / "access").write_text(access, encoding="utf-8")
        (self._folder / "access").chmod(0o600)
        if self._process is not None:
            self._signal(signal.SIGHUP)

    def log(self) -> str:
        """All it has said, over every start: CONNECT with its will, SUBSCRIBE, PUBLISH."""
        return self._log_file.read_text(encoding="utf-8", errors="replace")

    # --- eyes and hands --------------------------------------------------------------

    def recorder(self, topic: str = "#") -> "Recorder":
        """Everything published from now on; it is subscribed once this returns."""
        name = f"recorder-{next(_NUMBERS)}"
        return Recorder(self._subscriber(name, topic), lambda: self._subscribed(name))

    def retained(self, topic: str = "#") -> dict[str, str]:
        """What a subscriber that comes now is given: topic -> payload."""
        name = f"late-{next(_NUMBERS)}"
        # The first live message ends mosquitto_sub here, so a marker published after its
        # subscription comes behind all that is retained.
        marker = f"late-view/{name}"
        process = self._subscriber(name, topic, "-t", marker, "--retained-only")
        try:
            eventually(lambda: self._subscribed(name), "the late subscriber does not get through")
            self.publish(marker, "end")
            output, _ = process.communicate(timeout=20)
        finally:
            process.kill()
            process.communicate()
        found = [_record(line) for line in output.splitlines()]
        return {record.topic: record.payload for record in found}

    def publish(self, topic: str, payload: str, *, retain: bool = False) -> None:
        """An empty payload with retain deletes what is retained."""
        body = ["-m", payload] if payload else ["-n"]
        flags = ["-r"] if retain else []
        subprocess.run(
            [_command("mosquitto_pub"), *self._address(), "-q", "1", "-t", topic, *body, *flags],
            check=True,
            timeout=20,
        )

    def publish_as(self, user: str, password: str, topic: str, payload: str) -> bool:
        """As a client of the listener under test, in MQTT 5; whether the broker took it."""
        done = subprocess.run(
            [
                *(_command("mosquitto_pub"), "-h", "127.0.0.1", "-p", str(self.port)),
                *("-V", "mqttv5", "-u", user, "-P", password, "-q", "1"),
                *("-t", topic, "-m", payload),
            ],
            capture_output=True,
            text=True,
            timeout=20,
            check=False,
        )
        assert "refused" not in done.stderr, done.stderr  # the connection, that is
        return "Not authorized" not in done.stderr and done.returncode == 0

    # --- inside ----------------------------------------------------------------------

    def _configuration(self) -> list[str]:
        lines = [
            "per_listener_settings true",
            *self._top_lines,
            f"user {getpass.getuser()}",  # as root it would become user mosquitto, unable to
            # read the test's own folder
            "log_dest stderr",
            "log_type all",
            f"listener {self._own_port} 127.0.0.1",
            "allow_anonymous true",
            f"listener {self.port} 127.0.0.1"
            if self._socket_file is None
            else f"listener 0 {self._socket_file}",
            *self._lines,
        ]
        if self._persistent:
            lines += ["persistence true", f"persistence_location {self._folder}/"]
        if self._users is None:
            lines += ["allow_anonymous true"]
        else:
            lines += ["allow_anonymous false", f"password_file {self._folder / 'users'}"]
        if self._access is not None:
            self.set_access(self._access)
            lines += [f"acl_file {self._folder / 'access'}"]
        if self._tls is not None:
            lines += [f"cafile {self._tls.ca_file}", f"certfile {self._tls.cert_file}"]
            lines += [f"keyfile {self._tls.key_file}"]
        return lines

    def _write_users(self) -> None:
        if self._users is None:
            return
        file = self._folder / "users"
        file.write_text("", encoding="utf-8")
        file.chmod(0o600)
        for name, password in self._users.items():
            subprocess.run(
                [_command("mosquitto_passwd"), "-b", str(file), name, password], check=True
            )

    def _came_up(self, before: int) -> bool:
        assert self._process is not None
        said = self.log()[before:]
        if self._process.poll() is not None:
            raise AssertionError(f"mosquitto ended at once:\n{said}")
        return " running" in said

    def _signal(self, number: signal.Signals) -> None:
        assert self._process is not None, "not running"
        self._process.send_signal(number)

    def _end(self, number: signal.Signals) -> None:
        assert self._process is not None, "not running"
        self._process.send_signal(signal.SIGCONT)  # a frozen one would never see SIGTERM
        self._process.send_signal(number)
        self._process.wait(timeout=20)
        self._process = None

    def _address(self) -> list[str]:
        return ["-h", "127.0.0.1", "-p", str(self._own_port)]

    def _subscriber(self, name: str, topic: str, *more: str) -> subprocess.Popen[str]:
        asked = ["-V", "mqttv5", "--retain-as-published", "-q", "2", "-t", topic, "-F", "%j"]
        return subprocess.Popen(
            [_command("mosquitto_sub"), *self._address(), "-i", name, *asked, *more],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # it reports every lost connection, which tests cause
            text=True,
            encoding="utf-8",
            errors="replace",  # others may publish what is no text
        )

    def _subscribed(self, name: str) -> bool:
        return f"Sending SUBACK to {name}\n" in self.log()


class Recorder:
    """All that passed, in order. It finds its way back after a restart of the broker."""

    def __init__(self, process: subprocess.Popen[str], subscribed: Callable[[], bool]) -> None:
        assert process.stdout is not None
        self._process = process
        self._lock = threading.Lock()
        self._records: list[Record] = []
        self._reader = threading.Thread(target=self._read, args=(process.stdout,), daemon=True)
        self._reader.start()
        eventually(subscribed, "the recorder does not get through")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._reader.join()
        self._process.communicate()

    @property
    def records(self) -> list[Record]:
        with self._lock:
            return list(self._records)

    def payloads(self, topic: str) -> list[str]:
        """Every payload of one topic so far, in order."""
        return [record.payload for record in self.records if record.topic == topic]

    def wait_for(self, topic: str, payload: str, *, times: int = 1, within_s: float = 20.0) -> None:
        """Until this payload has passed on this topic so many times in all."""
        eventually(
            lambda: self.payloads(topic).count(payload) >= times,
            lambda: f"{topic} = {payload!r}; it saw {self.payloads(topic)}",
            within_s,
        )

    def _read(self, lines: IO[str]) -> None:
        for line in lines:
            record = _record(line)
            with self._lock:
                self._records.append(record)


def _record(line: str) -> Record:
    fields = json.loads(line)
    payload = fields["payload"] or ""  # it writes null for a zero-length one
    return Record(fields["topic"], payload, fields["qos"], bool(fields["retain"]))
