"""Which folder wins: the settings', systemd's, or the usual one."""

from pathlib import Path

import pytest

from greenkeeper import folders
from greenkeeper.settings.schema import Settings


def _settings(**own: str) -> Settings:
    return Settings.model_validate(
        {
            "site": {"name": "lean-to"},
            "probes": {"bench": {"kind": "onewire", "rom": "28-0316a2795a01"}},
            "zones": {"bench": {"probes": ["bench"]}},
            "folders": own,
        }
    )


@pytest.fixture(autouse=True)
def _outside_systemd(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("STATE_DIRECTORY", raising=False)
    monkeypatch.delenv("RUNTIME_DIRECTORY", raising=False)


@pytest.mark.parametrize("settings", [None, _settings()])
def test_without_a_word_from_anyone_the_usual_folders_serve(settings: Settings | None) -> None:
    assert folders.state_folder(settings) == Path("/var/lib/greenkeeper")
    assert folders.runtime_folder(settings) == Path("/run/greenkeeper")


@pytest.mark.parametrize("settings", [None, _settings()])
def test_systemds_folders_win_over_the_usual_ones(
    settings: Settings | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STATE_DIRECTORY", "/var/lib/private/keeper")
    monkeypatch.setenv("RUNTIME_DIRECTORY", "/run/keeper")
    assert folders.state_folder(settings) == Path("/var/lib/private/keeper")
    assert folders.runtime_folder(settings) == Path("/run/keeper")


def test_the_settings_folders_win_over_systemds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STATE_DIRECTORY", "/var/lib/private/keeper")
    monkeypatch.setenv("RUNTIME_DIRECTORY", "/run/keeper")
    settings = _settings(state="/srv/state", runtime="/srv/run")
    assert folders.state_folder(settings) == Path("/srv/state")
    assert folders.runtime_folder(settings) == Path("/srv/run")


def test_of_several_folders_of_systemd_the_first_is_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STATE_DIRECTORY", "/var/lib/one:/var/lib/two")
    assert folders.state_folder(None) == Path("/var/lib/one")


def test_an_empty_variable_counts_as_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("RUNTIME_DIRECTORY", "")
    assert folders.runtime_folder(None) == Path("/run/greenkeeper")
