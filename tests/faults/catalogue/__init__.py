"""The catalogue of faults, by group, in the order of the printed table."""

from tests.faults.catalogue import (
    broker,
    calls,
    clock,
    contacts,
    damp,
    files,
    journal,
    outputs,
    probes,
    process,
    settings,
    stages,
    states,
)
from tests.faults.catalogue.calls import Sweep
from tests.faults.fault import Fault, Process

Row = Fault | Sweep | Process

GROUPS: dict[str, tuple[Row, ...]] = {
    "probes": probes.FAULTS,
    "damp": damp.FAULTS,
    "outputs": outputs.FAULTS,
    "stages": stages.FAULTS,
    "contacts": contacts.FAULTS,
    "journal": journal.FAULTS,
    "settings": settings.FAULTS,
    "files": files.FAULTS,
    "broker": broker.FAULTS,
    "clock": clock.FAULTS,
    "states": states.FAULTS,
    "calls": calls.FAULTS,
    "process": process.FAULTS,
}
