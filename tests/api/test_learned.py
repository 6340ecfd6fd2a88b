"""What a process has learned: found at once, fitted apart, read in one query."""

import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import Conflict
from mendpool.core.evidence.fit_format import FIT_FORMAT, catalogue_of, fit_version
from mendpool.usecases import learned as module
from mendpool.usecases.learned import Learned

from tests.api.pools import Pool, running_pool, statements
from tests.databases import Databases
from tests.engines import engine_of
from tests.factories import make_id, make_report

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
DEAD = {"s:no-output": 50}


@pytest.fixture
def apart(databases: Databases, catalogue: Catalogue) -> Iterator[Pool]:
    """Give a pool that makes its fits apart, as `serve` does."""
    with running_pool(databases, catalogue) as running:
        running.service.place.learned.work_apart()
        yield running
        running.service.place.learned.stop()


def another(pool: Pool) -> Learned:
    """What another process on the same pool would learn."""
    catalogue = pool.service.place.catalogue
    return Learned(pool.store, catalogue, engine=engine_of(catalogue))


def fits(pool: Pool) -> list[int]:
    return [c.seq for c in pool.store.changes_after(0, 1000) if c.kind == "fit"]


def test_a_report_is_found_by_the_next_question_of_every_process(fresh: Pool) -> None:
    others = [another(fresh), another(fresh)]
    report = ""
    for count in (1, 2, 3):
        report = fresh.put(make_report())
        for learned in others:
            found = learned.search(DEAD)
            assert found.searched == len(found.cases) == count
            assert report in {case.id for case in found.cases}
    fresh.client("alder").delete(f"/v1/reports/{report}")
    assert [learned.search(DEAD).searched for learned in others] == [2, 2]


def test_cases_come_from_the_index_and_follow_what_was_added(fresh: Pool) -> None:
    learned, report = another(fresh), fresh.put(make_report())
    assert learned.search(DEAD).cases[0].followups == ()
    route = f"/v1/reports/{report}/followups/{make_id()}"
    later = {"happened": "2026-11", "state": "holding"}
    with statements(fresh.store) as seen:
        learned.search(DEAD)
    assert not any("case_body" in statement for statement in seen), "nothing new came"
    fresh.client("alder").put(route, json=later).raise_for_status()
    (case,) = learned.search(DEAD).cases
    assert [s.state for s in case.followups] == ["holding"]
    assert list(learned.search(DEAD).cases) == list(another(fresh).search(DEAD).cases)


def test_a_write_waits_for_no_fit(apart: Pool, monkeypatch: pytest.MonkeyPatch) -> None:
    learned, go_on, begun = apart.service.place.learned, threading.Event(), threading.Event()
    made_fit = vars(module)["made_fit"]

    def slow(*given: Any) -> Any:
        begun.set()
        go_on.wait(30)
        return made_fit(*given)

    monkeypatch.setattr(module, "made_fit", slow)
    apart.put(make_report())
    assert begun.wait(30)
    # Both of these are answered while the fit is still being made.
    apart.put(make_report())
    assert learned.search(DEAD).searched == 2
    assert fits(apart) == []
    go_on.set()
    assert learned.settle()
    assert len(fits(apart)) == 1
    # What came after its cut is not in it.
    assert learned.search(DEAD).fit_name == "reports-1"


def test_while_reports_come_a_fit_waits_and_they_are_found_all_the_same(
    apart: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "_PAUSE_S", 60)
    monkeypatch.setattr(module, "_LATEST_S", 60)
    learned = apart.service.place.learned
    for count in (1, 2, 3):
        apart.put(make_report())
        assert learned.search(DEAD).searched == count
    assert fits(apart) == []
    assert learned.settle()
    assert len(fits(apart)) == 1
    assert learned.newest_fit().reports == 3


def test_a_fit_does_not_wait_for_ever(apart: Pool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_PAUSE_S", 60)
    monkeypatch.setattr(module, "_LATEST_S", 0.2)
    apart.put(make_report())
    until = time.monotonic() + 30
    while not fits(apart) and time.monotonic() < until:
        time.sleep(0.02)
    assert len(fits(apart)) == 1


def test_what_was_taken_back_is_out_of_the_next_fit(apart: Pool) -> None:
    first, _ = apart.put(make_report()), apart.put(make_report())
    learned = apart.service.place.learned
    assert learned.settle()
    apart.client("alder").delete(f"/v1/reports/{first}").raise_for_status()
    assert learned.settle()
    assert learned.newest_fit().reports == 1
    assert len(fits(apart)) == 2


def test_a_withdrawal_that_no_process_learned_from_makes_a_fit_due(fresh: Pool) -> None:
    first, _ = fresh.put(make_report()), fresh.put(make_report())
    # Straight from the store, as if the process had died before it made the next fit.
    fresh.store.withdraw(UUID(first), 2, True, NOW)
    learned, erased = another(fresh), []
    learned.fit_if_due(NOW, then=lambda: erased.append(1))
    assert learned.newest_fit().reports == 1
    before = fits(fresh)
    learned.fit_if_due(NOW, then=lambda: erased.append(2))
    assert fits(fresh) == before
    assert erased == [1], "only when something was taken back"


def test_what_could_not_be_erased_is_erased_the_next_time(fresh: Pool) -> None:
    first = fresh.put(make_report())
    fresh.store.withdraw(UUID(first), 2, True, NOW)
    learned, tried = another(fresh), []

    def erase() -> None:
        tried.append(1)
        if len(tried) == 1:
            raise OSError("a reader holds the log")

    with pytest.raises(OSError, match="reader"):
        learned.fit_if_due(NOW, at_once=True, then=erase)
    learned.fit_if_due(NOW)
    learned.fit_if_due(NOW)
    assert len(tried) == 2, "once more, and then it is done"


def test_a_fit_begun_before_a_withdrawal_is_made_anew(
    fresh: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh.put(make_report())
    learned, save, tries = another(fresh), fresh.store.save_fit, []

    def conflict_once(*given: Any) -> Any:
        tries.append(given[0])
        if len(tries) == 1:
            raise Conflict
        return save(*given)

    monkeypatch.setattr(fresh.store, "save_fit", conflict_once)
    learned.fit_if_due(NOW, at_once=True)
    assert len(tries) == 2


def test_one_process_makes_the_fit(fresh: Pool) -> None:
    learned = another(fresh)
    with fresh.store.alone("fit"):
        fresh.put(make_report())
        learned.fit_if_due(NOW)
        assert fits(fresh) == []
    learned.fit_if_due(NOW)
    assert len(fits(fresh)) == 1


def test_stopping_gives_a_fit_up(apart: Pool, monkeypatch: pytest.MonkeyPatch) -> None:
    learned, go_on, begun = apart.service.place.learned, threading.Event(), threading.Event()
    made_fit = vars(module)["made_fit"]

    def slow(*given: Any) -> Any:
        begun.set()
        go_on.wait(30)
        return made_fit(*given)

    monkeypatch.setattr(module, "made_fit", slow)
    apart.put(make_report())
    assert begun.wait(30)
    threading.Timer(0.2, go_on.set).start()
    learned.stop()
    assert fits(apart) == []
    apart.put(make_report())  # still taken; a fit is no more
    assert learned.settle(5)
    assert fits(apart) == []


def test_a_job_that_fails_does_not_end_the_rest(
    apart: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    learned = apart.service.place.learned
    with monkeypatch.context() as broken:
        broken.setattr(module, "made_fit", lambda *_given: 1 / 0)
        apart.put(make_report())
        assert learned.settle()
    assert fits(apart) == []
    apart.put(make_report())
    assert learned.settle()
    assert len(fits(apart)) == 1


def test_a_fit_of_another_form_is_not_looked_at(fresh: Pool) -> None:
    """A release that changes what a fit holds meets those of the one before."""
    fresh.put(make_report())
    catalogue = fresh.service.place.catalogue
    fresh.store.save_fit(1, catalogue.version, b"of some older form", NOW)
    older = fit_version(catalogue.version, FIT_FORMAT - 1)
    fresh.store.save_fit(1, older, b"of the last form", NOW)
    learned = another(fresh)
    assert learned.newest_fit().reports == 1, "the fit made when the report came"
    fresh.put(make_report())
    learned.fit_if_due(NOW, at_once=True)
    assert another(fresh).newest_fit().reports == 2
    assert catalogue_of(older) == catalogue.version
