"""A small file is replaced whole, or not at all."""

import pytest

from greenkeeper import files


@pytest.mark.parametrize("durable", [True, False])
def test_the_new_text_takes_the_place_of_the_old(tmp_path, durable):
    path = tmp_path / "status.json"
    path.write_text("old")
    files.replace(path, "new °C", durable=durable)
    assert path.read_text(encoding="utf-8") == "new °C"
    assert [each.name for each in tmp_path.iterdir()] == ["status.json"]


def test_a_failed_write_leaves_the_old_file_and_nothing_beside_it(tmp_path):
    path = tmp_path / "status.json"
    path.write_text("old")
    with pytest.raises(UnicodeEncodeError):
        files.replace(path, "\udc80", durable=False)
    assert path.read_text() == "old"
    assert [each.name for each in tmp_path.iterdir()] == ["status.json"]


def test_a_file_made_anew_has_the_asked_for_mode(tmp_path):
    path = tmp_path / "status.json"
    files.replace(path, "x", durable=False, mode=0o600)
    assert path.stat().st_mode & 0o777 == 0o600
