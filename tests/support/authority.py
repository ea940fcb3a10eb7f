"""A throw-away certificate authority for tests, made by the `openssl` command.

Elliptic keys, because they are made in milliseconds. Nothing here is a secret or
outlives the test's folder.
"""

import subprocess
from pathlib import Path
from typing import NamedTuple


class Certificate(NamedTuple):
    """What a TLS server shows, and the authority its clients must know."""

    ca_file: Path
    cert_file: Path
    key_file: Path


class Authority:
    """Its own root; `issue` makes server certificates for loopback names."""

    def __init__(self, folder: Path, name: str = "test-authority") -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._folder = folder
        self.ca_file = folder / f"{name}.pem"
        self._key_file = folder / f"{name}.key"
        _openssl(
            *("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1"),
            *("-nodes", "-days", "2", "-subj", f"/CN={name}"),
            # Python 3.13 and later refuse an authority that does not say what it is for.
            *("-addext", "keyUsage=critical,keyCertSign,cRLSign"),
            *("-keyout", self._key_file, "-out", self.ca_file),
        )

    def issue(
        self,
        subject_names: str = "DNS:localhost,IP:127.0.0.1",
        stem: str = "server",
        days: str = "2",
    ) -> Certificate:
        """A certificate. `subject_names` as in openssl's subjectAltName; with negative
        days it is over already."""
        key, request, cert = (self._folder / f"{stem}.{end}" for end in ("key", "csr", "pem"))
        extensions = self._folder / f"{stem}.ext"
        extensions.write_text(f"subjectAltName={subject_names}\n", encoding="utf-8")
        _openssl(
            *("req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"),
            *("-subj", f"/CN={stem}", "-keyout", key, "-out", request),
        )
        _openssl(
            *("x509", "-req", "-in", request, "-CA", self.ca_file, "-CAkey", self._key_file),
            *("-CAcreateserial", "-days", days, "-extfile", extensions, "-out", cert),
        )
        return Certificate(self.ca_file, cert, key)


def _openssl(*arguments: str | Path) -> None:
    done = subprocess.run(
        ["openssl", *map(str, arguments)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"openssl {arguments[0]} failed:\n{done.stderr}"
