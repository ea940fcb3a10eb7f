"""The rest: probes against the poll, the night, the journal and the broker."""

import pytest

from tests.settings.examples import changed, remarks, said


def _with_broker(keys: str) -> str:
    return changed(("night:", f"broker: {{host: hub.local, {keys}}}\nnight:"))


def test_a_reading_must_outlive_two_polls() -> None:
    assert said(changed(("stale_s: 45", "stale_s: 20.9"))) == [
        "house.yaml:8:57  probes.right.stale_s: found 20.9;"
        " allowed 21 or more (seconds): two polls and one second"
    ]


def test_two_polls_and_one_second_are_enough() -> None:
    assert said(changed(("stale_s: 45", "stale_s: 21"))) == []


def test_a_slow_poll_needs_longer_times_than_the_default() -> None:
    assert said(changed(("poll_s: 10", "poll_s: 30"), ("stale_s: 45", "stale_s: 61"))) == [
        "house.yaml:5:9  poll_s: found 30; allowed at most 22 (seconds), by the default stale_s\n"
        "    Or give a stale_s of 61 or more to left, outdoors."
    ]


def test_a_range_that_is_none() -> None:
    text = changed(("stale_s: 45", "lowest_c: -10, highest_c: -10"))
    assert said(text)[0] == (
        "house.yaml:8:58  probes.right.lowest_c: found -10 °C;"
        " allowed below its highest_c of -10 °C"
    )


def test_a_probe_must_be_believed_in_frost() -> None:
    assert said(changed(("stale_s: 45", "lowest_c: 5"))) == [
        "house.yaml:8:58  probes.right.lowest_c: found 5 °C;"
        " allowed below 5 °C, where bench starts to heat\n"
        "    Below its lowest_c a probe is not believed: heat would stay off in frost."
    ]


def test_a_probe_hardly_believed_in_frost_is_remarked() -> None:
    assert remarks(changed(("stale_s: 45", "lowest_c: 0"))) == [
        "probes.right.lowest_c: 0 °C is close below the heating setpoint of bench"
        " | Colder than that the probe is not believed, and heat stays off."
    ]


def test_a_night_without_length() -> None:
    assert said(changed(("to: '07:00'", "to: '20:00'"))) == [
        "house.yaml:13:28  night.to: found '20:00' twice;"
        " allowed a night that begins and ends at different times"
    ]


def test_a_night_that_begins_at_the_default_end() -> None:
    assert said(changed(("{from: '20:00', to: '07:00'}", "{from: '07:00'}"))) == [
        "house.yaml:13:15  night.from: found '07:00' twice;"
        " allowed a night that begins and ends at different times"
    ]


def test_minutes_are_not_kept_longer_than_hours() -> None:
    assert said(changed(("keep_days: 3650", "keep_days: 100, minutes_days: 101"))) == [
        "house.yaml:26:41  journal.minutes_days: found 101; allowed at most 100, the keep_days"
    ]


def test_a_default_is_called_one() -> None:
    assert said(changed(("keep_days: 3650", "keep_days: 100"))) == [
        "house.yaml:26:1  journal.minutes_days: found 400 (the default);"
        " allowed at most 100, the keep_days"
    ]


def test_a_password_needs_a_user() -> None:
    assert said(_with_broker("tls: {}, port: 8883, password_file: secret")) == [
        "house.yaml:13:63  broker.password_file: found a password for nobody;"
        " allowed one beside a username"
    ]


def test_tls_on_the_plain_port_is_remarked() -> None:
    assert remarks(_with_broker("tls: {}")) == [
        "broker.port: 1883 is the port without TLS; brokers take TLS on 8883"
    ]


def test_the_tls_port_without_tls_is_remarked() -> None:
    assert remarks(_with_broker("port: 8883")) == [
        "broker.port: 8883 is the port for TLS, and there is no tls: here"
    ]


def test_a_password_that_travels_readable_is_remarked() -> None:
    assert remarks(_with_broker("username: keeper, password_file: secret")) == [
        "broker.password_file: without tls the password travels readable to hub.local"
        " | Add tls: {} and port: 8883 if the broker offers it."
    ]


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST.", "127.0.0.1", "127.9.9.9", "'::1'"])
def test_a_password_that_stays_on_the_machine_is_not(host: str) -> None:
    text = _with_broker("username: keeper, password_file: secret").replace("hub.local", host)
    assert remarks(text) == []


def test_a_quiet_broker_gives_no_remark() -> None:
    assert remarks(_with_broker("tls: {}, port: 8883, username: k, password_file: s")) == []


def _with_alarms(keys: str) -> str:
    return changed(("night:", f"alarms: {{{keys}}}\nnight:"))


def test_alarms_for_nobody() -> None:
    (fault,) = said(_with_alarms("repeat_s: 900"))
    assert fault.endswith(
        "alarms: found nobody to tell;"
        " allowed an addresses_file, a heartbeat_file or both; or no alarms: at all"
    )


@pytest.mark.parametrize("key", ["addresses_file", "heartbeat_file"])
def test_alarms_for_somebody(key: str) -> None:
    assert said(_with_alarms(f"{key}: /etc/greenkeeper/who")) == []


def test_quiet_hours_without_length() -> None:
    text = _with_alarms("addresses_file: who, quiet: {from: '07:00'}")
    (fault,) = said(text)
    assert "alarms.quiet.from: found '07:00' twice" in fault
    assert "quiet hours that begin and end at different times" in fault


def test_a_certificate_needs_its_key_and_a_key_its_certificate() -> None:
    (lonely,) = said(_with_broker("port: 8883, tls: {cert_file: /a.pem}"))
    assert "broker.tls.cert_file: found a certificate without its key" in lonely
    (lost,) = said(_with_broker("port: 8883, tls: {key_file: a-key}"))
    assert "broker.tls.key_file: found a key without a certificate" in lost
    assert said(_with_broker("port: 8883, tls: {cert_file: /a.pem, key_file: a-key}")) == []


def test_a_socket_needs_no_encryption() -> None:
    (found,) = said(_with_broker("tls: {}").replace("hub.local", "/run/hub.sock"))
    assert "tls beside a socket" in found
    assert said(_with_broker("username: keeper").replace("hub.local", "/run/hub.sock")) == []


@pytest.mark.parametrize(
    ("keys", "found"),
    [
        ("{}", "forecast: found neither url nor topic; allowed one of them, or both"),
        (
            "{url: 'https://weather.example/compact'}",
            "forecast: found url without identity; allowed both of them",
        ),
        (
            "{topic: weather/tonight}",
            "forecast.topic: found a topic, and no broker; allowed with broker: in the settings",
        ),
    ],
)
def test_a_forecast_has_a_source_with_what_it_takes(keys: str, found: str) -> None:
    (told,) = said(changed(("night:", f"forecast: {keys}\nnight:")))
    assert found in told


def test_a_forecast_may_have_two_sources() -> None:
    forecast = "forecast: {topic: a/b, url: 'http://weather.example/c', identity: me@example.org}"
    assert said(changed(("night:", f"broker: {{host: hub.local}}\n{forecast}\nnight:"))) == []
