"""Where a picture can go, and that nothing of it is left where it cannot."""

import os
from pathlib import Path

import pytest

from greenkeeper.reports import picture
from greenkeeper.reports.picture import PictureError


def test_a_folder_one_may_not_write_in_is_told_before_any_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Whoever runs the tests may be allowed everything.
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(PictureError, match="you may not write there"):
        picture.checked(tmp_path / "winter.png")


def test_a_folder_is_no_picture(tmp_path: Path) -> None:
    (tmp_path / "winter.png").mkdir()
    with pytest.raises(PictureError, match="is a folder: name a file in it"):
        picture.checked(tmp_path / "winter.png")


def test_what_could_not_be_saved_leaves_nothing_behind(tmp_path: Path) -> None:
    (tmp_path / "winter.png").mkdir()  # since it was asked
    with pytest.raises(PictureError, match=r"winter\.png cannot be written: Is a directory"):
        picture.save(picture.new(1.0, 1.0), tmp_path / "winter.png")
    assert [each.name for each in tmp_path.iterdir()] == ["winter.png"]


def test_a_folder_that_is_gone_is_told_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(PictureError, match="cannot be written: No such file"):
        picture.save(picture.new(1.0, 1.0), tmp_path / "gone" / "winter.png")
