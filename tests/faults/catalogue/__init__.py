"""The catalogue of faults, by group, in the order of the printed table."""

from tests.faults.catalogue import files, journal, outputs, probes, settings
from tests.faults.fault import Fault

GROUPS: dict[str, tuple[Fault, ...]] = {
    "probes": probes.FAULTS,
    "outputs": outputs.FAULTS,
    "journal": journal.FAULTS,
    "settings": settings.FAULTS,
    "files": files.FAULTS,
}
