"""Why a broker says no, in words that tell a grower what to look at.

Lives here: MQTT reason codes and connection errors as sentences. Does not live here:
deciding what to do about them (client.py).
Source of the codes: OASIS MQTT 5.0, table 2-6; those of 3.1.1 (table 3.1) are mapped
to them by paho.
"""

import errno
import socket
import ssl

UNSUPPORTED_PROTOCOL = 0x84
TAKEN_OVER = 0x8E

_WORDS = {
    0x80: "it gives no reason",
    0x81: "it could not read what was sent",
    0x82: "it sees a mistake in the protocol",
    0x83: "it has a reason of its own",
    UNSUPPORTED_PROTOCOL: "it speaks neither MQTT 5 nor 3.1.1",
    0x85: "it does not accept the client ID",
    0x86: "wrong user name or password",
    0x87: "not authorised: check username, password_file and the broker's access list",
    0x88: "it is not available just now",
    0x89: "it is too busy",
    0x8A: "this keeper is banned there",
    0x8B: "it is shutting down",
    0x8C: "it wants another way of signing in",
    0x8D: "it heard nothing for too long",
    TAKEN_OVER: "another client signed in as this keeper: is a second one running for this device?",
    0x90: "it does not accept the topic",
    0x91: "it believes an earlier message is still under way",
    0x93: "too many messages at once",
    0x95: "the message is larger than it takes",
    0x96: "too many messages in a short time",
    0x97: "a quota is used up",
    0x98: "its administrator ended the connection",
    0x99: "it does not accept the content",
    0x9A: "it keeps no retained messages, and nothing works without them",
    0x9B: "it does not offer QoS 1",
    0x9C: "another server is to be used for now",
    0x9D: "it has moved to another address",
    0x9F: "too many connections in a short time",
}

# These pass by themselves; for every other code somebody has to change something.
_PASSING = {0x80, 0x88, 0x89, 0x8B, 0x8D, 0x93, 0x96, 0x98, 0x9C, 0x9F}


def words(code: int) -> str:
    """A reason code for people, with the number for those who look it up."""
    return f"{_WORDS.get(code, 'it gives an unknown reason')} (MQTT reason 0x{code:02X})"


def needs_a_person(code: int) -> bool:
    return code not in _PASSING


def of_connecting(error: OSError) -> str:
    """Why no connection came about."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"its certificate is not trusted: {_certificate(error)}"
    if isinstance(error, ssl.SSLError):
        return f"no encrypted connection: {error.reason or 'unknown reason'}"
    if isinstance(error, socket.gaierror):
        return "its name is not known"
    if isinstance(error, TimeoutError):
        return "no answer"
    return _SYSTEM.get(error.errno or 0) or (error.strerror or type(error).__name__).lower()


_SYSTEM = {
    errno.ECONNREFUSED: "nothing listens there",
    errno.ENETUNREACH: "no network",
    errno.EHOSTUNREACH: "the machine is not there",
    errno.ECONNRESET: "it hung up",
    errno.ENOENT: "there is no such socket",
    errno.EACCES: "this keeper may not open that socket",
}

# OpenSSL, x509_vfy.h
_NOT_YET_VALID = 9


def _certificate(error: ssl.SSLCertVerificationError) -> str:
    found = error.verify_message.rstrip(".")
    if error.verify_code == _NOT_YET_VALID:
        return f"{found}. Is this machine's clock set?"
    return f"{found}. Check tls: ca_file, and host against the certificate's names"
