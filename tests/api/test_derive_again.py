"""Stored cases follow the catalogue and the way of deriving."""

import json
from pathlib import Path

import pytest

from mendpool.core.diagnosis.derive import derived_version
from mendpool.main import derive_all
from mendpool.settings import Settings
from mendpool.usecases import derive_again as deriving
from mendpool.usecases.derive_again import derive_again

from tests.api.pools import Pool
from tests.factories import make_id, make_report


def case_of(pool: Pool) -> dict[str, object]:
    """The derived form of the one report held."""
    (row,) = [r for r in pool.service.place.store.cases_after(0, 10) if r.kind == "report"]
    found: dict[str, object] = json.loads(row.case_body or "{}")
    return found


def test_a_case_of_another_version_is_derived_again_to_the_same(fresh: Pool) -> None:
    body = make_report(readings=[{"text": "residual 0.4 V with the avr unplugged"}])
    fresh.client("alder").put(f"/v1/reports/{make_id()}", json=body).raise_for_status()
    store, engine = fresh.service.place.store, fresh.service.place.learned.engine
    first = case_of(fresh)
    (stale,) = store.stale_cases("another", 0, 10)
    store.set_cases([(stale.report_id, "{}")], "another")
    assert case_of(fresh) == {}
    assert derive_again(store, engine) == 1
    assert case_of(fresh) == first
    assert store.stale_cases(derived_version(engine.catalogue), 0, 10) == []


def test_nothing_is_done_twice(fresh: Pool) -> None:
    fresh.client("alder").put(f"/v1/reports/{make_id()}", json=make_report())
    place = fresh.service.place
    assert derive_again(place.store, place.learned.engine) == 0


def test_what_is_kept_for_that_is_shown_to_nobody(fresh: Pool) -> None:
    alder, name = fresh.client("alder"), make_id()
    stored = alder.put(f"/v1/reports/{name}", json=make_report()).json()
    read = alder.get(f"/v1/reports/{name}").json()
    listed = alder.get("/v1/reports").json()["items"][0]
    found = alder.get("/v1/reports", params={"q": "nothing at the outlets"}).json()["items"][0]
    preview = alder.post("/v1/reports/preview", json=make_report()).json()["report"]
    assert all("given" not in told for told in (stored, read, listed, found, preview))


def test_it_ends_when_it_is_told_to(fresh: Pool) -> None:
    fresh.client("alder").put(f"/v1/reports/{make_id()}", json=make_report())
    store, engine = fresh.service.place.store, fresh.service.place.learned.engine
    (stale,) = store.stale_cases("another", 0, 10)
    store.set_cases([(stale.report_id, "{}")], "another")
    assert derive_again(store, engine, lambda _done: False) == 0
    assert case_of(fresh) == {}
    assert derive_again(store, engine, lambda done: done < 1) == 1
    assert case_of(fresh) != {}


@pytest.mark.slow
def test_other_processes_derive_the_same(
    fresh: Pool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for volts in range(5):
        fresh.put(make_report(complaint=f"only {volts} volts at the outlet, no output"))
    place = fresh.service.place
    expected = cases_of(fresh)
    stale = place.store.stale_cases("another", 0, 10)
    place.store.set_cases([(case.report_id, "{}") for case in stale], "another")
    monkeypatch.setattr(deriving, "_PAGE", 2)
    told: list[str] = []
    settings = Settings(database_url="sqlite://", cache_dir=tmp_path)
    assert derive_all(settings, place, 2, told.append) == 5
    assert cases_of(fresh) == expected
    assert derive_all(settings, place, 2, told.append) == 0
    assert not any("Another" in said for said in told)


def cases_of(pool: Pool) -> list[str | None]:
    return [row.case_body for row in pool.store.cases_after(0, 20) if row.kind == "report"]
