"""The loop's side of the journal: takes every tick, never waits, never raises.

    loop: record() -> Gather -> Backlog        writer's thread: Backlog -> Scribe -> card

Lives here: when what is written, and the one thread that writes. Does not live here:
what a tick becomes (gather.py), what is dropped first (backlog.py), faults (scribe.py).

Minutes reach the card every batch_s of the ticks' monotonic time, so that a clock turned
by hand works as well as a real one. An alarm wakes the thread at once and takes along the
notes that wait; and the minutes, if half of batch_s has passed, so that the next batch can
wait: what a commit costs is hardly what is in it, but that there is one (opening.py). So a
switching, of which a day may have hundreds, wakes the thread as well, but is jotted down
beside the journal (jotter.py) and comes into it with the next batch.
The lock is held for appending and taking only, microseconds, never during I/O.
"""

import threading
from pathlib import Path

from greenkeeper.errors import CATALOGUE, Level
from greenkeeper.journal.backlog import Backlog, Lost
from greenkeeper.journal.gather import Gather
from greenkeeper.journal.rows import Note, Switching
from greenkeeper.journal.scribe import Batch, Outcome, Scribe
from greenkeeper.journal.store import Keeping, Run
from greenkeeper.journal.times import DAY_S, HOUR_S, utc_text
from greenkeeper.model import Condition, Event, Now, Phase, Tick
from greenkeeper.settings.schema import Settings

# Some 15 hours of eight probes and three outputs, about 3 MB: a card that is full in the
# evening is mended in the morning without a gap.
BACKLOG_ROWS = 10_000

_RETRY_S = 30.0  # between attempts while the journal fails, by the ticks' clock
_SILENT_S = 600.0  # the longest a card may leave without an answer what was asked of it
_CLOSE_S = 10.0  # how long close() waits for the card, in real time
_BOOT_ID_FILE = Path("/proc/sys/kernel/random/boot_id")


class JournalWriter:
    """One run's journal. Its methods are for the loop's thread alone."""

    def __init__(self, file: Path, settings: Settings, now: Now, version: str) -> None:
        """Starts the thread, which opens or makes the file. The folder must exist."""
        self._scribe = Scribe(file, Run(_boot_id(), version, now), _keeping(settings))
        self._batch_s = settings.journal.batch_s
        self._lock = threading.Lock()
        self._wake = threading.Event()
        # Invariant: touched under the lock only.
        self._gather = Gather(settings)
        self._backlog = Backlog(BACKLOG_ROWS)
        self._now = now
        self._minutes_due = False
        self._commit_due = False
        self._to_jot: list[Switching] = []  # they wait in the backlog as well
        self._clean: bool | None = None  # None until close() is called
        self._asked_s: float | None = None  # the oldest asking the card has not answered
        self._idle = threading.Event()
        # The loop's own.
        self._next_batch_s = now.mono_s + self._batch_s
        self._next_retry_s = now.mono_s
        self._fault: str | None = None  # what went wrong on this side
        self._replaced = False  # the thread, and nobody has been told yet
        # The thread's own. The first upkeep waits for the first batch: a reader that found
        # no writer just before this start must not see the file folded under its hands.
        self._next_upkeep_s = self._next_trim_s = self._next_batch_s

        self._ask(now)  # open the file now, not with the first batch
        self._thread = self._start_thread()

    def record(self, tick: Tick) -> None:
        """Take in one tick. Costs microseconds; never waits for the card, never raises."""
        try:
            urgent = self._take_in(tick)
        except Exception as error:  # noqa: BLE001 - control goes on, whatever is in a record
            self._fault = f"a tick could not be taken in: {error!r}"
            return
        self._fault = None
        if not self._thread.is_alive() and self._clean is None:
            self._replace_thread(tick.now)
        failing = self._scribe.trouble is not None and tick.now.mono_s >= self._next_retry_s
        if failing:
            self._next_retry_s = tick.now.mono_s + _RETRY_S
        if urgent or failing:
            self._ask(tick.now)
        elif self._to_jot:
            self._ask(tick.now, commit=False)

    def note(self, event: Event) -> None:
        """Take in an event that belongs to no tick. As quick and as safe as record()."""
        with self._lock:
            self._backlog.add([], [event])
        if _urgent(event):
            self._ask(self._now)

    def use(self, settings: Settings) -> None:
        """New settings are in force: what was gathered so far stands under the old ones."""
        with self._lock:
            self._backlog.add(self._gather.use(settings), [])
        self._scribe.keeping = _keeping(settings)
        self._batch_s = settings.journal.batch_s

    def conditions(self) -> tuple[Condition, ...]:
        """What a person should know: the journal fails, or was damaged."""
        found = []
        trouble = self._scribe.trouble or self._fault or self._silence()
        if trouble is not None:
            fate = "waiting in memory" if self._clean is None else "not written"
            text = f"{trouble}; records {fate}: {len(self._backlog)}"
            if self._backlog.lost is not None:
                text += f"; dropped: {_loss_text(self._backlog.lost)}"
            found.append(Condition("journal-failing", "journal", text))
        if self._scribe.damage is not None:
            found.append(Condition("journal-damaged", "journal", self._scribe.damage))
        if self._replaced:
            found.append(Condition("part-failed", "journal", "its writing thread had died"))
            self._replaced = False
        return tuple(found)

    def settled(self, within_s: float) -> bool:
        """Wait until the card has all that was asked of it; False: not in that time.

        For whoever wants to see the record at once. The loop has no need of it.
        """
        return self._idle.wait(within_s)

    def close(self, now: Now, *, clean: bool) -> None:
        """The end of the run: write what waits, then let go of the file.

        Returns within 10 s even if the card hangs; conditions() then still says so.
        clean: the keeper was asked to stop. Safe to call twice.
        """
        with self._lock:
            if self._clean is None:
                notes = self._gather.stop(now)
                self._backlog.add(self._gather.take(), notes)
                self._now, self._minutes_due, self._clean = now, True, clean
        self._ask(now)
        self._thread.join(_CLOSE_S)
        if self._thread.is_alive():
            self._fault = f"the card did not answer within {_CLOSE_S:.0f} s of the end"

    def _take_in(self, tick: Tick) -> bool:
        """Returns whether there has to be a commit at once."""
        with self._lock:
            notes = self._gather.add(tick)
            self._to_jot += (note for note in notes if isinstance(note, Switching))
            urgent = any(map(_urgent, notes))
            wait_s = self._batch_s / 2.0 if urgent else 0.0
            due = tick.now.mono_s >= self._next_batch_s - wait_s
            self._backlog.add(self._gather.take() if due else [], notes)
            self._minutes_due |= due
            self._now = tick.now
        if due:
            self._next_batch_s = tick.now.mono_s + self._batch_s
        return due or urgent

    def _ask(self, now: Now, *, commit: bool = True) -> None:
        with self._lock:
            self._commit_due |= commit
            if self._asked_s is None:
                self._asked_s = now.mono_s
            self._idle.clear()
            self._wake.set()

    def _silence(self) -> str | None:
        """A card may hang without any error; two batches late is no mere slowness."""
        asked_s = self._asked_s
        patience_s = min(2.0 * self._batch_s, _SILENT_S)
        if asked_s is None or self._now.mono_s - asked_s <= patience_s:
            return None
        return f"the card has not answered for {self._now.mono_s - asked_s:.0f} s"

    # --- the thread ------------------------------------------------------------------

    def _start_thread(self) -> threading.Thread:
        thread = threading.Thread(target=self._work, name="journal", daemon=True)
        thread.start()
        return thread

    def _replace_thread(self, now: Now) -> None:
        """Nothing is meant to end it; without memory, something may."""
        try:
            self._thread = self._start_thread()
        except (RuntimeError, MemoryError) as error:
            self._fault = f"its writing thread has died: {error}"
            return
        self._replaced = True
        self._ask(now)

    def _work(self) -> None:
        try:
            self._write_batches()
        finally:
            self._scribe.abandon()

    def _write_batches(self) -> None:
        while True:
            self._wake.wait()
            self._wake.clear()
            if self._jotted():
                self._answer()
                continue
            batch, clean = self._next_batch()
            outcome = Outcome.KEPT
            try:
                outcome = self._scribe.write(batch)
            finally:  # even if this is the thread's end, what was taken is put back
                more = self._settle(batch, outcome)
            if clean is not None and not more:
                break
            self._answer()
        self._scribe.finish(batch.now, clean=clean)
        self._answer()

    def _jotted(self) -> bool:
        """Whether nothing but switchings was asked for, and the card has them."""
        with self._lock:
            rows, self._to_jot = self._to_jot, []
            if self._commit_due:
                return False  # they come with the batch
        return self._scribe.jot(rows)

    def _next_batch(self) -> tuple[Batch, bool | None]:
        with self._lock:
            minutes = self._backlog.take_minutes() if self._minutes_due else []
            self._minutes_due = self._commit_due = False
            upkeep = self._now.mono_s >= self._next_upkeep_s
            trim = bool(minutes) and self._now.mono_s >= self._next_trim_s
            batch = Batch(self._now, minutes, self._backlog.take_notes(), upkeep, trim)
            return batch, self._clean

    def _answer(self) -> None:
        with self._lock:
            if not self._wake.is_set():
                self._asked_s = None
                self._idle.set()

    def _settle(self, batch: Batch, outcome: Outcome) -> bool:
        """Deal with what was not written; returns whether there is something more to write."""
        with self._lock:
            if outcome is Outcome.KEPT:
                self._backlog.put_back(batch.minutes, batch.notes)
                self._minutes_due = True
                return False
            if outcome is Outcome.REFUSED:
                self._backlog.give_up(batch.minutes, batch.notes)
                return False
            if batch.upkeep:
                self._next_upkeep_s = batch.now.mono_s + DAY_S
            if batch.trim:
                self._next_trim_s = batch.now.mono_s + HOUR_S
            if self._backlog.lost is None:
                return False
            self._backlog.add([], [_loss_event(self._backlog.lost, batch.now)])
            self._backlog.lost = None
            self._commit_due = True
        self._wake.set()
        return True


def _urgent(note: Note) -> bool:
    """Alarms are in the journal at once; everything else comes with a batch.

    So is the result of a test, because the next test may be to kill the keeper.
    """
    if isinstance(note, Event):
        entry = CATALOGUE.get(note.code)
        return entry is None or entry.level is Level.ALARM or note.code == "commissioned"
    return False


def _loss_text(lost: Lost) -> str:
    return (
        f"{lost.minutes} minute records and {lost.notes} others from {utc_text(lost.first_utc_s)}"
        f" to {utc_text(lost.last_utc_s)}"
    )


def _loss_event(lost: Lost, now: Now) -> Event:
    text = f"dropped while the journal could not be written: {_loss_text(lost)}"
    return Event("journal-failing", Phase.NOTED, "journal", text, now.mono_s, now.utc_s)


def _keeping(settings: Settings) -> Keeping:
    return Keeping(
        site=settings.site.name,
        timezone=settings.site.timezone,
        keep_days=settings.journal.keep_days,
        minutes_days=settings.journal.minutes_days,
    )


def _boot_id() -> str:
    """The kernel's name for this boot (random(4)); empty where there is none."""
    try:
        return _BOOT_ID_FILE.read_text(encoding="ascii").strip()
    except OSError:
        return ""
