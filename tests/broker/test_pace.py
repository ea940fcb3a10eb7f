"""The waits between attempts."""

from greenkeeper.broker.pace import Backoff, usual_pace

PACE = usual_pace(poll_s=10.0, keepalive_s=20.0)


def test_waits_double_up_to_half_a_minute_and_never_end() -> None:
    backoff = Backoff(PACE)
    waits = [backoff.wait_s(None) for _ in range(100)]
    assert waits == [1.0, 2.0, 4.0, 8.0, 16.0] + [30.0] * 95


def test_only_a_connection_that_lasted_starts_them_afresh() -> None:
    backoff = Backoff(PACE)
    assert [backoff.wait_s(None), backoff.wait_s(29.9), backoff.wait_s(0.1)] == [1.0, 2.0, 4.0]
    assert [backoff.wait_s(30.0), backoff.wait_s(None)] == [1.0, 2.0]


def test_patience_follows_the_settings() -> None:
    assert PACE.silent_s == 60.0
    assert PACE.affirm_s == 20.0
    assert PACE.stalled_s == 60.0
    assert usual_pace(poll_s=60.0, keepalive_s=5.0).stalled_s == 300.0


def test_closing_is_bounded_below_three_seconds() -> None:
    assert PACE.farewell_s <= 1.0
    assert PACE.close_s < 3.0
