"""A secret is found where systemd hands it over, where it stores it, or where it is said to be."""

from pathlib import Path

import pytest

from greenkeeper import credentials
from greenkeeper.credentials import CredentialError, locate


@pytest.fixture(autouse=True)
def by_hand(monkeypatch, tmp_path):
    """A process that systemd did not start, and stores that are empty."""
    monkeypatch.delenv(credentials.VARIABLE, raising=False)
    stores = (tmp_path / "etc", tmp_path / "run")
    for store in stores:
        store.mkdir()
    monkeypatch.setattr(credentials, "STORES", stores)
    return stores


def test_an_absolute_path_is_itself():
    assert locate("/no/such/file") == Path("/no/such/file")


def test_a_service_finds_what_systemd_hands_it(monkeypatch, tmp_path, by_hand):
    (by_hand[0] / "password").touch()
    monkeypatch.setenv(credentials.VARIABLE, str(tmp_path))
    assert locate("password") == tmp_path / "password"


def test_a_command_run_by_hand_finds_what_systemd_would_hand_over(by_hand):
    (by_hand[1] / "password").touch()
    assert locate("password") == by_hand[1] / "password"
    (by_hand[0] / "password").touch()
    assert locate("password") == by_hand[0] / "password"


def test_otherwise_it_says_what_can_be_done(by_hand):
    with pytest.raises(CredentialError) as caught:
        locate("password")
    for words in ("LoadCredential=password", str(by_hand[0]), "an absolute path"):
        assert words in str(caught.value)
