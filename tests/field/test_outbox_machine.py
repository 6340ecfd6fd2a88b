"""Whatever happens in whatever order, the pool's reports are what was said, each once."""

import tempfile
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from mendpool_field.errors import (
    FieldError,
    NotSignedIn,
    Refused,
    ServiceFailed,
    Unreachable,
)
from mendpool_field.flush import flush
from mendpool_field.outbox import Entry, Outbox


class Killed(BaseException):
    """The process dies where it stands."""


class OutboxMachine(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.outbox = Outbox(Path(self.folder.name))
        self.said: dict[str, str] = {}
        self.unwanted: set[str] = set()
        self.pool: dict[str, str] = {}
        self.next_fault: FieldError | None = None
        self.answer_lost = self.dies = False

    def teardown(self) -> None:
        self.folder.cleanup()

    @rule(wanted=st.booleans())
    def say(self, wanted: bool) -> None:
        name = f"01930000-0000-7000-8000-{len(self.said) + 1:012d}"
        entry = Entry(name, "report", name, f'{{"n":{len(self.said)}}}')
        self.outbox.save(entry)
        self.said[name] = entry.body
        if not wanted:
            self.unwanted.add(name)

    @rule(fault=st.sampled_from([Unreachable("u", "w"), ServiceFailed(503), NotSignedIn("")]))
    def meet_trouble(self, fault: FieldError) -> None:
        self.next_fault = fault

    @rule()
    def lose_the_answer(self) -> None:
        self.answer_lost = True

    @rule()
    def die_after_sending(self) -> None:
        self.dies = True

    @rule()
    def restart(self) -> None:
        self.outbox = Outbox(Path(self.folder.name))

    @rule()
    def send(self) -> None:
        try:
            flush(self.outbox, self._put, str)
        except Killed:
            self.restart()

    def _put(self, entry: Entry) -> None:
        fault, self.next_fault = self.next_fault, None
        if fault is not None:
            raise fault
        if entry.id in self.unwanted:
            raise Refused(422, "no", "")
        # One body a name, or it would be a conflict.
        assert self.pool.setdefault(entry.id, entry.body) == entry.body
        lost, self.answer_lost = self.answer_lost, False
        dies, self.dies = self.dies, False
        if dies:
            raise Killed
        if lost:
            raise Unreachable("u", "the connection broke off")

    @invariant()
    def nothing_is_lost_or_invented(self) -> None:
        kept = {entry.id: entry.body for entry in self.outbox.entries()}
        assert self.pool.items() <= self.said.items()
        assert {**kept, **self.pool} == self.said

    @rule()
    def one_good_sync_brings_them_equal(self) -> None:
        self.next_fault, self.answer_lost, self.dies = None, False, False
        flush(self.outbox, self._put, str)
        wanted = {i: body for i, body in self.said.items() if i not in self.unwanted}
        assert self.pool == wanted
        assert {entry.state for entry in self.outbox.entries()} <= {"parked"}


TestOutboxMachine = OutboxMachine.TestCase
TestOutboxMachine.settings = settings(
    max_examples=30, stateful_step_count=25, deadline=None, derandomize=True
)
