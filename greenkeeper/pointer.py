"""JSON Pointer: where in a document a value stands. Pure.

Source: RFC 6901, "JavaScript Object Notation (JSON) Pointer", sections 3 to 5; the
examples of its section 5 are in tests/tables/json_pointer.csv.
"""

import re
from typing import Any

PATTERN = r"^(/([^~/]|~[01])*)*$"

_INDEX = re.compile(r"0|[1-9][0-9]*")
_LONGEST_INDEX = 9  # digits: nothing that came over a broker has a billion items


def tokens(pointer: str) -> tuple[str, ...]:
    """The names on the way. "" is the whole document. Raises ValueError: no pointer."""
    if re.fullmatch(PATTERN, pointer) is None:
        raise ValueError(f"{pointer!r} is no JSON pointer: write one such as /ridge/temperature")
    # ~1 first, so that "~01" becomes "~1" and not "/": RFC 6901, section 4.
    return tuple(token.replace("~1", "/").replace("~0", "~") for token in pointer.split("/")[1:])


def value_at(document: Any, way: tuple[str, ...]) -> Any:
    """What stands there. Raises LookupError, with the name that is not there."""
    for token in way:
        if isinstance(document, dict) and token in document:
            document = document[token]
        elif (
            isinstance(document, list) and _INDEX.fullmatch(token) and len(token) <= _LONGEST_INDEX
        ):
            if int(token) >= len(document):
                raise LookupError(f"there is no item {token}")
            document = document[int(token)]
        else:
            raise LookupError(f"there is no {token[:40]!r}")
    return document
