"""The real program in a shed that heats, for faults of the whole process.

Lives here: Yard, which keeps one keeper running from fault to fault as long as the faults
let it, and what must hold after each. Does not live here: the faults
(catalogue/process.py) and the shed (tests/endtoend/shed.py).
"""

import json
import shutil
import signal
from pathlib import Path
from typing import Self

from greenkeeper.errors import CATALOGUE
from greenkeeper.journal.check import findings
from greenkeeper.journal.reader import Journal
from tests.endtoend.shed import FAN, HEATER, Shed
from tests.faults.fault import Outcome, Process
from tests.faults.house import STRATEGY
from tests.faults.invariants import ORDINARY

COLD_C, WARM_C = 4.875, 7.0
SPARE = 22
OFF_LEVEL = {HEATER: 1, FAN: 0, SPARE: 1}


class Yard:
    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._count = 0
        self._shed: Shed | None = None
        self._seen = 0  # characters of the log

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._leave()

    def play(self, fault: Process) -> Outcome:
        shed = self._new() if fault.starts_itself else self._heating()
        self._seen = len(shed.log())
        try:
            did = fault.act(shed)
            told = self._told(shed)
            self._check(fault, shed, told)
        except BaseException:
            self._leave()  # the next one begins on clean ground
            raise
        return Outcome(did, tuple(sorted(told)))

    # --- the keeper ------------------------------------------------------------------------

    def _heating(self) -> Shed:
        """Its heater is on, as far as the fault before let it run."""
        shed = self._shed
        if shed is None or shed.process is None:
            shed = self._new()
            shed.bench(COLD_C)
            shed.start()
        shed.bench(COLD_C)
        shed.until(shed.heating, "the heater did not come on")
        shed.until(
            lambda: shed.status().get("outputs", {}).get("heater", {}).get("on"),
            "the status did not say so",
        )
        return shed

    def _new(self) -> Shed:
        self._leave()
        self._count += 1
        folder = self._folder / str(self._count)
        folder.mkdir(parents=True)
        self._shed = Shed(folder, strategy=STRATEGY)
        return self._shed

    def _leave(self) -> None:
        if self._shed is not None:
            if self._shed.process is not None:
                self._shed.send(signal.SIGCONT)
            self._shed.__exit__()
            shutil.rmtree(self._shed.folder)
            self._shed = None

    # --- what must hold --------------------------------------------------------------------

    def _told(self, shed: Shed) -> set[str]:
        told = set()
        for line in shed.log()[self._seen :].splitlines():
            if line.startswith("{"):
                told.add(json.loads(line)["event"])
        return told - ORDINARY

    def _check(self, fault: Process, shed: Shed, told: set[str]) -> None:
        assert told - CATALOGUE.keys() == set(), "codes without a paragraph"
        missing = set(fault.told) - told
        assert not missing, f"not told of: {sorted(missing)}, but {sorted(told)}"
        odd = told - set(fault.told) - set(fault.may)
        assert not odd, f"told as well: {sorted(odd)}"
        if shed.process is None:
            for pin, level in OFF_LEVEL.items():
                assert not shed.lines.changes(pin) or shed.lines.level(pin) == level, f"GPIO{pin}"
        journal_file = shed.state / "journal.db"
        if journal_file.exists():
            with Journal(journal_file) as journal:
                assert [text for text in findings(journal) if text.startswith("damaged")] == []
