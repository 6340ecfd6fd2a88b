"""The real client against the real service over a bad line: nothing lost, nothing twice.

Whatever is done to the line, and whenever either end is killed, the reports of the pool are at
all times some of what was said, each once and word for word; and after one good sync they are
all of it, less what was set aside with a reason.
"""

import atexit
import json
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import httpx
import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from mendpool_field.flush import Patience, flush
from mendpool_field.gateway import Gateway
from mendpool_field.outbox import Entry, Outbox
from mendpool_field.settings import Service

from tests.factories import make_id, make_report
from tests.faults.bad_line import FAULTS, BadLine
from tests.faults.real_pool import FIELD, RealPool

CACHE = tempfile.TemporaryDirectory()
atexit.register(CACHE.cleanup)
TOTALS: Counter[str] = Counter()
"""What was done in all runs of this process; the slow test prints it."""


class FieldAndService(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        base = Path(self.folder.name)
        self.pool = RealPool(base, Path(CACHE.name))
        self.token, self.other = self.pool.member("alder"), self.pool.member("willow")
        self.pool.start()
        self.line = BadLine(self.pool.port)
        self.line.__enter__()
        self.home = base / "home"
        self.outbox = Outbox(self.home)
        self.said: dict[str, str] = {}
        self.followed: dict[str, str] = {}
        self.of_others: set[str] = set()
        self.up = True
        self.odds = random.Random(7)

    def teardown(self) -> None:
        try:
            self.one_good_sync_brings_them_equal()
        finally:
            self.pool.kill()
            self.line.__exit__()
            self._count()

    def _count(self) -> None:
        TOTALS.update({f"fault: {fault}": n for fault, n in self.line.done.items()})
        TOTALS["reports"] += len(self.said)
        TOTALS["follow-ups"] += len(self.followed)
        self.folder.cleanup()

    # ---- what people do

    @rule()
    def say(self) -> None:
        report_id = str(make_id())
        complaint = f"no power, number {len(self.said)}"
        body = json.dumps(make_report(complaint=complaint, note=None) | {"note": "ü"})
        self.outbox.save(Entry(report_id, "report", report_id, body))
        self.said[report_id] = complaint

    @rule()
    @precondition(lambda self: self.up)
    def say_under_an_id_that_another_took(self) -> None:
        report_id = str(make_id())
        headers = {"Authorization": f"Bearer {self.other}"}
        url = f"{self.pool.url}/v1/reports/{report_id}"
        httpx.put(
            url, json=make_report(complaint="another's"), headers=headers
        ).raise_for_status()
        body = json.dumps(make_report(complaint="mine"))
        self.outbox.save(Entry(report_id, "report", report_id, body))
        self.of_others.add(report_id)

    @rule(data=st.data())
    @precondition(lambda self: self.said)
    def say_later_whether_it_held(self, data: st.DataObject) -> None:
        report_id = data.draw(st.sampled_from(sorted(self.said)))
        followup_id = str(make_id())
        body = json.dumps({"happened": "2026-10", "state": "holding"})
        self.outbox.save(Entry(followup_id, "followup", report_id, body))
        self.followed[followup_id] = report_id

    # ---- what happens to the line and to either end

    @rule(faults=st.lists(st.sampled_from(FAULTS), min_size=1, max_size=4))
    def the_line_turns_bad(self, faults: list[str]) -> None:
        for fault in faults:
            self.line.next_do(fault)

    @rule()
    @precondition(lambda self: self.up)
    def the_service_is_killed(self) -> None:
        self.pool.kill()
        self.up = False
        TOTALS["service killed"] += 1

    @rule()
    @precondition(lambda self: not self.up)
    def the_service_comes_back(self) -> None:
        self.pool.start()
        self.up = True

    @rule()
    def sync(self) -> None:
        gateway = Gateway(Service(self.line.url, self.token), pause=lambda: None)
        patience = Patience(2, 1, lambda _: None, lambda: 0.0)
        flush(self.outbox, gateway.send, lambda refused: refused.title, patience)
        TOTALS["syncs"] += 1

    @rule(after=st.floats(0.15, 0.6))
    def sync_and_be_killed(self, after: float) -> None:
        env = {
            **self.pool.environment,
            "MENDPOOL_URL": self.line.url,
            "MENDPOOL_TOKEN": self.token,
            "MENDPOOL_HOME": str(self.home),
        }
        with subprocess.Popen(
            [*FIELD, "sync"], env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as client:
            time.sleep(after)
            TOTALS["client killed" if client.poll() is None else "client done"] += 1
            client.kill()

    @rule()
    def the_service_is_killed_while_it_takes_them(self) -> None:
        if not self.up:
            return
        env = {
            **self.pool.environment,
            "MENDPOOL_URL": self.line.url,
            "MENDPOOL_TOKEN": self.token,
            "MENDPOOL_HOME": str(self.home),
        }
        with subprocess.Popen(
            [*FIELD, "sync"], env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as client:
            time.sleep(self.odds.uniform(0.2, 0.4))
            self.the_service_is_killed()
            client.wait(60)

    # ---- what is always so

    @invariant()
    def the_pool_holds_some_of_what_was_said_each_once(self) -> None:
        if not self.up:
            return
        held = self._held()
        assert {i: r["complaint"] for i, r in held.items()}.items() <= self.said.items()
        seen = [f["id"] for r in held.values() for f in r["followups"]]
        assert len(seen) == len(set(seen))
        assert set(seen) <= set(self.followed)

    @invariant()
    def whatever_the_pool_has_not_is_still_here(self) -> None:
        if not self.up:
            return
        held = self._held()
        waiting = {entry.id for entry in self.outbox.entries()}
        seen = {f["id"] for r in held.values() for f in r["followups"]}
        assert set(self.said) <= set(held) | waiting
        assert set(self.followed) <= seen | waiting

    @rule()
    def one_good_sync_brings_them_equal(self) -> None:
        self.line.heal()
        if not self.up:
            self.the_service_comes_back()
        self.sync()
        held = self._held()
        assert set(held) == set(self.said)
        seen = {f["id"] for r in held.values() for f in r["followups"]}
        assert seen == set(self.followed)
        left = self.outbox.entries()
        assert {entry.state for entry in left} <= {"parked"}
        assert {entry.id for entry in left} == self.of_others

    def _held(self) -> dict[str, dict[str, object]]:
        """The member's own reports, as the service has them."""
        reports = self.pool.reports(self.token)
        ids = [str(report["id"]) for report in reports]
        assert len(ids) == len(set(ids))
        return {str(r["id"]): r for r in reports if str(r["id"]) not in self.of_others}


_BRIEF = settings(
    max_examples=1,
    stateful_step_count=20,
    deadline=None,
    derandomize=True,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)


class TestBriefly(FieldAndService.TestCase):
    settings = _BRIEF


@pytest.mark.slow
class TestAtLength(FieldAndService.TestCase):
    settings = settings(_BRIEF, max_examples=4, stateful_step_count=50)

    @classmethod
    def tearDownClass(cls) -> None:
        super().tearDownClass()
        sys.stdout.write("\n".join(f"{what}: {n}" for what, n in sorted(TOTALS.items())))
