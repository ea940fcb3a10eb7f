"""A bell that ends a wait on a socket.

Lives here: a flag that select() can watch beside a connection, so that a stopping
program need not wait for the network to stir.
"""

import select
import socket


class Bell:
    """Rung by any thread, heard by one. Once rung it stays rung."""

    def __init__(self) -> None:
        self.ear, self._hammer = socket.socketpair()

    def ring(self) -> None:
        """Safe to call twice, and after close()."""
        try:
            self._hammer.send(b"!")
        except OSError:
            return  # closed: whoever listened has gone

    def wait(self, timeout_s: float) -> None:
        """Return when it is rung, or when the time is up."""
        select.select([self.ear], [], [], timeout_s)

    def close(self) -> None:
        self.ear.close()
        self._hammer.close()
