"""How patient the client is, in real seconds.

Lives here: the figures and the waits between attempts. Real seconds, even where ticks
follow a hand-driven clock: a network knows of no other.
"""

from typing import NamedTuple


class Pace(NamedTuple):
    """The client's patience, in real seconds."""

    silent_s: float  # without any acknowledgement: the link is given up
    affirm_s: float  # without any: `ready` is said again, to have one
    stalled_s: float  # without a tick: control is reported as stalled
    send_s: float = 1.0  # newest values leave at most this often
    first_retry_s: float = 1.0  # doubled with every failure
    longest_retry_s: float = 30.0
    settled_s: float = 30.0  # a connection that lasted this long starts the doubling afresh
    farewell_s: float = 1.0  # for `disconnected` to be acknowledged
    close_s: float = 2.5  # for the thread to end; then it is left behind


def usual_pace(poll_s: float, keepalive_s: float) -> Pace:
    """paho itself gives a dead link up after two keepalives; three are the second net.

    Five polls without a tick, and a minute at least, are more than any slow probe costs.
    """
    return Pace(
        silent_s=3.0 * keepalive_s,
        affirm_s=keepalive_s,
        stalled_s=max(60.0, 5.0 * poll_s),
    )


class Backoff:
    """Waits that double from attempt to attempt. One keeper needs no chance in them."""

    def __init__(self, pace: Pace) -> None:
        self._pace = pace
        self._next_s = pace.first_retry_s

    def wait_s(self, lasted_s: float | None) -> float:
        """The wait before the next attempt. lasted_s: how long the connection stood that
        has just ended; None: there was none.

        One that ends at once, as when two clients share a name, counts as a failure.
        """
        if lasted_s is not None and lasted_s >= self._pace.settled_s:
            self._next_s = self._pace.first_retry_s
        wait_s = self._next_s
        self._next_s = min(2.0 * wait_s, self._pace.longest_retry_s)
        return wait_s
