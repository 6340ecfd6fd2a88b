"""What the pool knows beyond one question: what fails on such sets, how long fixes hold."""

import re
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import TemporarilyImpossible
from mendpool.core.evidence.tally import tally_of
from mendpool.index import view
from mendpool.usecases.tallied import Tallied

from tests.api.pools import Pool, running_pool, statements
from tests.api.test_parcel_routes import LINES, foreign
from tests.databases import Databases
from tests.factories import make_id, make_report

PETROL = {"fuel": "petrol", "excitation": "capacitor"}


@pytest.fixture(scope="module")
def pool(databases: Databases, catalogue: Catalogue) -> Iterator[Pool]:
    """Six diesel sets with worn brushes, followed up; a petrol one; one got by, defeated."""
    with running_pool(databases, catalogue) as running:
        for number in range(6):
            report = running.put(
                {**make_report(), "happened": "2025-08", "region": str(number)},
                "alder" if number % 2 else "birch",
            )
            later = {
                "happened": "2026-09" if number else "2025-11",
                "state": "holding" if number else "returned",
            }
            route = f"/v1/reports/{report}/followups/{make_id()}"
            name = "alder" if number % 2 else "birch"
            assert running.client(name).put(route, json=later).status_code == 201
        running.put(
            {
                "machine": PETROL,
                "symptoms": ["hunting"],
                "cause": {"component": "carburettor", "failure": "gummed"},
                "outcome": "repaired",
                "happened": "2026-04",
            }
        )
        running.put(
            {
                "machine": {"fuel": "diesel"},
                "symptoms": ["stops-running"],
                "attempts": [
                    {"component": "oil-switch", "action": "remove", "result": "fixed"}
                ],
                "outcome": "get-by",
                "protection_defeated": True,
            }
        )
        yield running


def failing(pool: Pool, **plate: Any) -> Any:
    answer = pool.client("alder").get("/v1/failing", params=plate)
    assert answer.status_code == 200, answer.text
    return answer.json()


def holding(pool: Pool, **fix: Any) -> Any:
    answer = pool.client("alder").get("/v1/durability", params=fix)
    assert answer.status_code == 200, answer.text
    return answer.json()


class TestFailing:
    def test_counts_people_range_and_words(self, pool: Pool) -> None:
        found = failing(pool)
        assert (found["reports"], found["people"], found["known"]) == (8, 2, 7)
        first = found["items"][0]
        assert (first["component"], first["failure"]) == ("brushes", "worn")
        assert (first["reports"], first["people"]) == (6, 2)
        assert 0 < first["low"] < first["share"] < first["high"] < 1
        assert first["says"].startswith("At fault in 6 of 7 repairs, from 2 people; 90 % range")
        assert found["by_month"][7] == 6
        assert found["by_month"][3] == 1

    def test_sets_like_mine(self, pool: Pool) -> None:
        petrol = failing(pool, **PETROL)
        assert [one["component"] for one in petrol["items"]] == ["carburettor"]
        assert petrol["narrowed_by"] == ["fuel", "excitation"]
        parts = {one["component"] for one in failing(pool, fuel="diesel")["items"]}
        assert "carburettor" not in parts

    def test_the_catalogues_own_guess_stands_beside_it(self, pool: Pool) -> None:
        guess = failing(pool, **PETROL)["catalogue"]
        shares = [one["share"] for one in guess]
        assert shares == sorted(shares, reverse=True)
        assert 0 < sum(shares) <= 1
        assert "injector" not in {one["component"] for one in guess}
        assert failing(pool, excitation="not-known")["catalogue"] == failing(pool)["catalogue"]

    def test_a_defeated_shutdown_is_no_failing_part(self, pool: Pool) -> None:
        assert "oil-switch" not in {one["component"] for one in failing(pool)["items"]}

    @pytest.mark.parametrize(
        ("query", "at"),
        [
            ("fuel=deisel", "/fuel"), ("excitation=x", "/excitation"), ("cooling=", "/cooling"),
            # By size nothing is narrowed, so nobody may think it was.
            ("rated_kva=3.5", "/rated_kva"), ("colour=red", "/colour"),
            ("fuel=diesel&fuel=petrol", "/fuel"),
        ],
    )  # fmt: skip
    def test_a_wrong_parameter_is_refused_by_name(
        self, pool: Pool, query: str, at: str
    ) -> None:
        answer = pool.client("alder").get(f"/v1/failing?{query}")
        assert answer.status_code == 422
        assert [fault["at"] for fault in answer.json()["errors"]] == [at]


class TestDurability:
    def test_one_fix_has_its_curve_and_the_usual_times(self, pool: Pool) -> None:
        found = holding(pool, component="brushes", action="replace")
        assert (found["followed"], found["failed"], found["silent"]) == (6, 1, 0)
        (step,) = found["steps"]
        assert (step["months"], step["at_risk"]) == (3, 6)
        assert step["share"] == pytest.approx(5 / 6, abs=1e-4)
        assert step["low"] < step["share"] < step["high"]
        at = {one["months"]: one for one in found["at"]}
        assert list(at) == [3, 6, 12, 24]
        assert (at[12]["share"], at[12]["at_risk"]) == (step["share"], 5)
        assert at[24]["share"] is None
        assert "5 seen that long" in found["says"]

    def test_without_a_fix_those_followed_most(self, pool: Pool) -> None:
        found = holding(pool)
        assert [one["component"] for one in found["items"]] == ["brushes"]
        assert found["items"][0]["months"] == 12
        assert found["reports"] == 8
        assert holding(pool, component="brushes")["items"] == found["items"]
        assert holding(pool, component="avr")["items"] == []

    def test_a_get_by_is_never_said_to_hold(self, pool: Pool) -> None:
        found = holding(pool, component="oil-switch", action="remove")
        assert (found["followed"], found["silent"], found["steps"]) == (0, 0, [])
        assert "no repair" in found["says"]

    @pytest.mark.parametrize(
        ("query", "at", "meant"),
        [
            ("component=brushs", "/component", "brushes"),
            ("component=brushes&action=replce", "/action", "replace"),
            ("part=brushes", "/part", None),
        ],
    )
    def test_a_wrong_parameter_is_refused_by_name(
        self, pool: Pool, query: str, at: str, meant: str | None
    ) -> None:
        answer = pool.client("alder").get(f"/v1/durability?{query}")
        assert answer.status_code == 422
        (fault,) = answer.json()["errors"]
        assert (fault["at"], fault.get("did_you_mean")) == (at, meant)


def test_they_are_for_members(pool: Pool) -> None:
    for route in ("/v1/failing", "/v1/durability"):
        assert pool.client().get(route).status_code == 401


def test_nothing_is_walked_again_while_nothing_came(pool: Pool) -> None:
    failing(pool)
    with statements(pool.store) as sent:
        failing(pool, fuel="diesel")
        holding(pool)
    asked = set(re.findall(r"\bFROM (\w+)", " ".join(" ".join(sent).split())))
    assert asked <= {"member", "change"}, "who asks, and whether anything came"


def test_what_was_filed_or_taken_back_shows_at_once(fresh: Pool) -> None:
    assert failing(fresh)["reports"] == 0
    report = fresh.put(make_report())
    assert failing(fresh)["items"][0]["component"] == "brushes"
    fresh.client("alder").delete(f"/v1/reports/{report}")
    assert (failing(fresh)["reports"], failing(fresh)["items"]) == (0, [])


def test_of_another_pools_reports_the_month_is_not_made_up(fresh: Pool) -> None:
    """A parcel tells the year alone; what is stored as January is none."""
    answer = fresh.client("steward").post("/v1/parcel", content=foreign(3), headers=LINES)
    assert answer.status_code == 200
    found = failing(fresh)
    assert found["reports"] == 3
    assert sum(found["by_month"]) == 0


class TestALargePool:
    """One of more reports than are counted while someone waits."""

    def test_it_is_counted_apart_and_told_when_it_is_there(self, fresh: Pool) -> None:
        place = fresh.service.place
        tallied = Tallied(at_once=2)
        for _ in range(5):
            fresh.put(make_report())
        # Nothing is apart here, so what is put off is done at once.
        first = tallied.now(place.learned, place.store)
        assert first.tally.reports == 5
        fresh.put(make_report())
        assert tallied.now(place.learned, place.store) is first, "until the next fit"
        place.learned.fit_if_due(fresh.time[0], at_once=True)
        assert tallied.now(place.learned, place.store).tally.reports == 6

    def test_who_comes_first_is_told_to_ask_again(
        self, fresh: Pool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        place = fresh.service.place
        for _ in range(3):
            fresh.put(make_report())
        monkeypatch.setattr("mendpool.usecases.tallied._WAIT_S", 0.01)
        monkeypatch.setattr(place.learned, "do_apart", lambda _name, _job: None)
        with pytest.raises(TemporarilyImpossible, match="ask again"):
            Tallied(at_once=2).now(place.learned, place.store)

    def test_of_a_first_rush_one_waits_and_the_others_are_told_at_once(
        self, fresh: Pool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        place = fresh.service.place
        for _ in range(3):
            fresh.put(make_report())
        monkeypatch.setattr("mendpool.usecases.tallied._WAIT_S", 60.0)
        jobs: list[Callable[[], None]] = []
        monkeypatch.setattr(place.learned, "do_apart", lambda _name, job: jobs.append(job))
        tallied = Tallied(at_once=2)
        with ThreadPoolExecutor(8) as threads:
            asked = [threads.submit(tallied.now, place.learned, place.store) for _ in range(8)]
            done = as_completed(asked, timeout=60)
            for _ in range(7):
                assert isinstance(next(done).exception(), TemporarilyImpossible)
            jobs[0]()
            assert next(done).result().tally.reports == 3

    def test_every_case_is_given_once_whatever_lies_where(
        self, fresh: Pool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(view, "_AT_A_TIME", 2)
        kept = [fresh.put(make_report()) for _ in range(5)]
        gone = fresh.put(make_report())
        learned = fresh.service.place.learned
        learned.catch_up()
        learned._index.tidy()
        kept.append(fresh.put(make_report()))
        late = fresh.put(make_report())
        for report in (gone, late):
            fresh.client("alder").delete(f"/v1/reports/{report}")
        cases = [case for some in learned.held().view.all_cases() for case in some]
        assert sorted(case.id for case in cases) == sorted(kept)


class TestASmallPool:
    def test_who_comes_while_one_counts_gets_the_former_counts(
        self, fresh: Pool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        place = fresh.service.place
        fresh.put(make_report())
        tallied = Tallied()
        former = tallied.now(place.learned, place.store)
        fresh.put(make_report())
        begun, go = threading.Event(), threading.Event()

        def slowly(*given: Any) -> Any:
            begun.set()
            assert go.wait(60)
            return tally_of(*given)

        monkeypatch.setattr("mendpool.usecases.tallied.tally_of", slowly)
        with ThreadPoolExecutor(1) as threads:
            counting = threads.submit(tallied.now, place.learned, place.store)
            assert begun.wait(60)
            assert tallied.now(place.learned, place.store) is former
            go.set()
            assert counting.result(60).tally.reports == 2

    def test_of_a_first_rush_one_counts(
        self, fresh: Pool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        place = fresh.service.place
        fresh.put(make_report())
        counted: list[int] = []

        def noted(*given: Any) -> Any:
            counted.append(1)
            time.sleep(0.05)  # long enough that the others come
            return tally_of(*given)

        monkeypatch.setattr("mendpool.usecases.tallied.tally_of", noted)
        tallied = Tallied()
        with ThreadPoolExecutor(8) as threads:
            asked = [threads.submit(tallied.now, place.learned, place.store) for _ in range(8)]
            assert len({id(one.result(60)) for one in asked}) == 1
        assert len(counted) == 1
