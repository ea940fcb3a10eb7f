"""A broker's room without a broker: what is subscribed to and sent, turned by hand."""

from collections.abc import Callable

Reader = Callable[[bytes, bool], None]


class PretendPost:
    def __init__(self) -> None:
        self.readers: dict[str, list[Reader]] = {}
        self.sent: list[tuple[str, str]] = []
        self.connected = True

    def subscribe(self, topic: str, reader: Reader) -> Callable[[], None]:
        self.readers.setdefault(topic, []).append(reader)
        return lambda: self.readers[topic].remove(reader)

    def send(self, topic: str, payload: bytes) -> bool:
        if self.connected:
            self.sent.append((topic, payload.decode()))
        return self.connected

    def brings(self, topic: str, payload: str | bytes, *, retained: bool = False) -> None:
        data = payload.encode() if isinstance(payload, str) else payload
        for reader in list(self.readers.get(topic, [])):
            reader(data, retained)
