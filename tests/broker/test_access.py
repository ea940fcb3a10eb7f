"""Password and certificate files: found, read, and refused in plain words."""

import os
import ssl
import subprocess
from pathlib import Path
from typing import Any

import pytest

from greenkeeper.broker import access
from greenkeeper.broker.link import V5, Target
from greenkeeper.settings.schema import Broker, Tls
from tests.support.authority import Authority

SECRET = "rain-on-the-roof-71"  # noqa: S105 - made up for this test


CREDENTIAL = {"password_file": "broker"}


def settings(**changes: Any) -> Broker:
    return Broker.model_validate({"host": "hub", "username": "keeper", **changes})


def test_without_a_password_file_there_is_no_password() -> None:
    assert access.password(settings()) is None


@pytest.mark.parametrize("end", ["", "\n", "\r\n"])
def test_the_line_end_of_an_editor_is_no_part_of_the_password(tmp_path: Path, end: str) -> None:
    file = tmp_path / "password"
    file.write_bytes(f" pass °word {end}".encode())
    assert access.password(settings(password_file=str(file))) == " pass °word "


def test_a_relative_name_is_a_systemd_credential(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "broker").write_text(SECRET)
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(tmp_path))
    assert access.password(settings(**CREDENTIAL)) == SECRET


def test_a_credential_without_systemd_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CREDENTIALS_DIRECTORY", raising=False)
    with pytest.raises(
        access.AccessError, match=r"password_file .*LoadCredential=.*or write an absolute path"
    ):
        access.password(settings(**CREDENTIAL))


@pytest.mark.parametrize(
    ("content", "complaint"),
    [
        (b"", "is empty"),
        (b"\n", "is empty"),
        (b"one\ntwo", "something else than one line"),
        (b"caf\xe9", "something else than one line"),
        (b"a\0b", "something else than one line"),
        (b"x" * 65_536, "something else than one line"),
        (b"x" * 1_000_000, "something else than one line"),
    ],
)
def test_a_file_that_holds_no_password_is_refused(
    tmp_path: Path, content: bytes, complaint: str
) -> None:
    file = tmp_path / "password"
    file.write_bytes(content)
    with pytest.raises(access.AccessError, match=complaint):
        access.password(settings(password_file=str(file)))


def test_the_longest_password_is_taken(tmp_path: Path) -> None:
    file = tmp_path / "password"
    file.write_bytes(b"x" * 65_535 + b"\r\n")
    assert access.password(settings(password_file=str(file))) == "x" * 65_535


def test_a_missing_file_and_a_pipe_are_refused_at_once(tmp_path: Path) -> None:
    with pytest.raises(access.AccessError, match="no such file"):
        access.password(settings(password_file=str(tmp_path / "nowhere")))
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(access.AccessError, match="not a plain file"):
        access.password(settings(password_file=str(tmp_path / "pipe")))


def test_a_password_without_a_username_is_refused(tmp_path: Path) -> None:
    with pytest.raises(access.AccessError, match="no username"):
        access.password(Broker(host="hub", password_file=str(tmp_path)))


def test_no_complaint_carries_the_password(tmp_path: Path) -> None:
    file = tmp_path / "password"
    file.write_bytes(SECRET.encode() + b"\xff\xff")
    with pytest.raises(access.AccessError) as caught:
        access.password(settings(password_file=str(file)))
    error: BaseException | None = caught.value
    while error is not None:
        assert SECRET not in repr(error)
        assert all(SECRET not in repr(argument) for argument in error.args)
        error = error.__cause__ or error.__context__


def test_a_target_shows_no_password() -> None:
    target = Target("hub", 1883, 20, "id", "keeper", SECRET, None, "homie/5/x", V5)
    assert SECRET not in f"{target} {target!r}"


def test_no_encryption_unless_asked_for() -> None:
    assert access.tls_context(None) is None


def test_certificate_and_name_are_always_checked(tmp_path: Path) -> None:
    authority = Authority(tmp_path)
    for tls in (Tls(), Tls(ca_file=str(authority.ca_file))):
        context = access.tls_context(tls)
        assert context is not None
        assert context.verify_mode is ssl.CERT_REQUIRED
        assert context.check_hostname
        assert context.minimum_version >= ssl.TLSVersion.TLSv1_2


def test_an_own_authority_is_the_only_one_trusted(tmp_path: Path) -> None:
    context = access.tls_context(Tls(ca_file=str(Authority(tmp_path).ca_file)))
    assert context is not None
    assert len(context.get_ca_certs()) == 1


def test_a_wrong_authority_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(access.AccessError, match=r"ca\.pem: no such file"):
        access.tls_context(Tls(ca_file=str(tmp_path / "ca.pem")))
    (tmp_path / "ca.pem").write_text("no certificate")
    with pytest.raises(access.AccessError, match="holds no PEM certificate"):
        access.tls_context(Tls(ca_file=str(tmp_path / "ca.pem")))


def own(tmp_path: Path, **changes: str) -> Tls:
    made = Authority(tmp_path / "ca").issue("DNS:keeper", "keeper")
    files = {"cert_file": str(made.cert_file), "key_file": str(made.key_file)}
    return Tls(ca_file=str(made.ca_file), **{**files, **changes})


def test_a_certificate_of_our_own_is_read(tmp_path: Path) -> None:
    assert access.tls_context(own(tmp_path)) is not None


def test_a_key_can_be_a_systemd_credential(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(tmp_path / "ca"))
    assert access.tls_context(own(tmp_path, key_file="keeper.key")) is not None


def test_a_key_that_fits_no_certificate_or_wants_a_password_is_refused_at_once(
    tmp_path: Path,
) -> None:
    other = Authority(tmp_path / "other").issue("DNS:keeper", "keeper")
    with pytest.raises(access.AccessError, match="no PEM certificate and its key"):
        access.tls_context(own(tmp_path, key_file=str(other.key_file)))
    locked = tmp_path / "locked.key"
    command = ["openssl", "pkcs8", "-topk8", "-in", other.key_file, "-out", locked]
    subprocess.run([*command, "-passout", "pass:x"], check=True, capture_output=True)
    with pytest.raises(access.AccessError, match="without a password"):
        access.tls_context(own(tmp_path, cert_file=str(other.cert_file), key_file=str(locked)))


def test_a_missing_certificate_or_key_is_named(tmp_path: Path) -> None:
    with pytest.raises(access.AccessError, match=r"nowhere\.pem: no such file"):
        access.tls_context(own(tmp_path, cert_file=str(tmp_path / "nowhere.pem")))
    with pytest.raises(access.AccessError, match=r"nowhere\.key: no such file"):
        access.tls_context(own(tmp_path, key_file=str(tmp_path / "nowhere.key")))
