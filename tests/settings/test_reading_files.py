"""Files that can't be read, or hold no text: one plain fault, never a traceback."""

import os
from pathlib import Path

import pytest

from greenkeeper.errors import GreenkeeperError
from greenkeeper.settings.load import MOST_BYTES, SettingsError, load, load_placed
from tests.settings.examples import SOUND


def _said(path: Path) -> str:
    with pytest.raises(SettingsError) as caught:
        load(path)
    return str(caught.value)


def _written(folder: Path, content: bytes) -> Path:
    path = folder / "house.yaml"
    path.write_bytes(content)
    return path


def test_a_sound_file_gives_settings(tmp_path: Path) -> None:
    assert load(_written(tmp_path, SOUND.encode())).site.name == "orchard"


def test_no_such_file(tmp_path: Path) -> None:
    assert _said(tmp_path / "none.yaml") == f"{tmp_path}/none.yaml: no such file"


def test_a_folder(tmp_path: Path) -> None:
    assert _said(tmp_path) == f"{tmp_path}: found a folder; allowed a settings file"


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Played, because a test that runs as root may read everything."""

    def refused(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(Path, "open", refused)
    assert _said(tmp_path / "house.yaml") == (
        f"{tmp_path}/house.yaml: found a file that may not be read; allowed a readable one\n"
        "    Give the keeper's user the right to read it."
    )


def test_a_card_that_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(*_: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(Path, "open", failing)
    assert _said(tmp_path / "house.yaml") == (
        f"{tmp_path}/house.yaml: a file that can't be read: [Errno 5] Input/output error"
    )


def test_a_name_no_file_can_have(tmp_path: Path) -> None:
    assert "a file that can't be read" in _said(tmp_path / "a\0b")


def test_a_link_that_leads_round_in_a_ring(tmp_path: Path) -> None:
    ring = tmp_path / "ring"
    ring.symlink_to(ring)
    assert "a file that can't be read" in _said(ring)


def test_a_file_that_is_not_utf_8_names_the_byte_and_its_place(tmp_path: Path) -> None:
    latin = SOUND.replace("plumbago", "Rose de Provins à fleurs").encode("latin-1")
    assert _said(_written(tmp_path, latin)) == (
        f"{tmp_path}/house.yaml:25:28: found the byte 0xE0, which is no UTF-8; allowed UTF-8\n"
        "    Save the file as UTF-8."
    )


@pytest.mark.parametrize(
    ("codec", "named"),
    [("utf-8-sig", "UTF-8"), ("utf-16", "UTF-16"), ("utf-32", "UTF-32")],
)
def test_a_byte_order_mark_is_named(tmp_path: Path, codec: str, named: str) -> None:
    assert _said(_written(tmp_path, SOUND.encode(codec))) == (
        f"{tmp_path}/house.yaml: found a byte-order mark ({named}); allowed plain UTF-8\n"
        "    Save it as UTF-8 without a byte-order mark (BOM)."
    )


def test_a_file_of_a_mebibyte_is_read_and_one_byte_more_is_not(tmp_path: Path) -> None:
    room = MOST_BYTES - len(SOUND.encode())
    fits = SOUND.encode() + b"#" * room
    assert load(_written(tmp_path, fits)).site.name == "orchard"
    assert _said(_written(tmp_path, fits + b"#")) == (
        f"{tmp_path}/house.yaml: found more than 1 MiB;"
        " allowed a settings file; some kilobytes are usual"
    )


def test_an_empty_file(tmp_path: Path) -> None:
    assert "found an empty file" in _said(_written(tmp_path, b""))


def test_a_name_that_is_no_unicode_can_still_be_told(tmp_path: Path) -> None:
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff.yaml"))
    assert _said(path).encode("utf-8").endswith(b"/\\udcff.yaml: no such file")


def test_the_error_is_one_of_ours_and_carries_what_it_says(tmp_path: Path) -> None:
    path = _written(tmp_path, SOUND.replace("pin: 17", "pin: 99").encode())
    with pytest.raises(GreenkeeperError) as caught:
        load(path)
    error = caught.value
    assert isinstance(error, SettingsError)
    (fault,) = error.faults
    assert (fault.file, fault.line, fault.column) == (str(path), 11, 29)
    assert (fault.key, fault.found) == ("outputs.heater.pin", "99")
    assert str(error) == str(fault)


def test_a_loaded_file_knows_where_its_remarks_belong(tmp_path: Path) -> None:
    path = _written(tmp_path, SOUND.replace("pin: 23", "pin: 23, min_on_s: 5").encode())
    (remark,) = load_placed(path).remarks()
    assert (remark.file, remark.line, remark.column) == (str(path), 12, 40)
