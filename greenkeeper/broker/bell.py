"""A bell that ends a wait on a socket.

Lives here: a flag that select() can watch beside a connection, so that a stopping
program, or a message that is to leave at once, need not wait for the network to stir.
"""

import select
import socket


class Bell:
    """Rung by any thread, heard by one. It stays rung until that one hushes it."""

    def __init__(self) -> None:
        self.ear, self._hammer = socket.socketpair()
        self.ear.setblocking(False)
        self._hammer.setblocking(False)

    def ring(self) -> None:
        """Safe to call twice, and after close()."""
        try:
            self._hammer.send(b"!")
        except OSError:
            return  # closed: whoever listened has gone; or full of rings already

    def hush(self) -> None:
        """Only whoever listens may do this; look afterwards what it was rung for."""
        try:
            while self.ear.recv(4096):
                pass
        except OSError:
            return  # nothing more in it

    def wait(self, timeout_s: float) -> None:
        """Return when it is rung, or when the time is up."""
        select.select([self.ear], [], [], timeout_s)

    def close(self) -> None:
        self.ear.close()
        self._hammer.close()
