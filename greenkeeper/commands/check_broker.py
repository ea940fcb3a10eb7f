"""`greenkeeper check --broker` and `--topics`: one connection tried, and what goes over it."""

import json
import sys

from greenkeeper.errors import GreenkeeperError
from greenkeeper.settings.schema import Settings


def write_topics(settings: Settings) -> int:
    """Raises GreenkeeperError."""
    from greenkeeper import __version__
    from greenkeeper.broker import asyncapi

    if settings.broker is None:
        raise GreenkeeperError("the settings have no broker: group, so there are no topics")
    document = asyncapi.document(settings, __version__)
    print(json.dumps(document, indent=1, ensure_ascii=False))
    return 0


def run(settings: Settings, *, as_json: bool) -> int:
    """0: a keeper can use this broker. 1: it cannot, and why. Raises GreenkeeperError."""
    from greenkeeper.broker.client import place
    from greenkeeper.broker.trial import Step, steps

    if settings.broker is None:
        raise GreenkeeperError("the settings have no broker: group, so there is nothing to try")
    done: list[Step] = []
    if not as_json:
        print(f"The broker at {place(settings.broker)}:")
    for step in steps(settings):
        done.append(step)
        if not as_json:
            print(f"  {step.name:<12}{'ok' if step.ok else 'FAILED':<8}{step.text}")
            sys.stdout.flush()
    fine = all(step.ok for step in done)
    if as_json:
        print(json.dumps({"ok": fine, "steps": [step._asdict() for step in done]}, indent=1))
    else:
        print("A keeper can use it." if fine else "A keeper cannot use it until that is mended.")
    return 0 if fine else 1
