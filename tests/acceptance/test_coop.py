"""The invented co-op goes whole into a pool and is as rich as a real one has to be."""

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest

from mendpool.coop.reports import InventedReport, invented_reports, label
from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Followup, Question, Report
from mendpool.usecases.ask import ask
from mendpool.usecases.file_report import Filed, file_report
from mendpool.usecases.follow_up import follow_up

from tests.api.pools import Pool, running_pool
from tests.databases import Databases

TODAY = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
EXCITATIONS = {"brushed-avr", "brushless-avr", "capacitor", "transformer", "inverter"}
FUELS = {"diesel", "petrol", "lpg", "natural-gas", "dual-fuel"}


@pytest.fixture(scope="module")
def reports() -> list[InventedReport]:
    return invented_reports()


@pytest.fixture(scope="module")
def loaded(
    databases: Databases,
    catalogue: Catalogue,
    reports: list[InventedReport],
) -> Iterator[tuple[Pool, dict[str, Filed]]]:
    """Give a pool with every report and follow-up in it, each by its own member."""
    with running_pool(databases, catalogue) as pool:
        place = pool.service.place
        filed = {}
        for report in reports:
            if report.who not in pool.members:
                pool.join(report.who)
            member = pool.members[report.who].member
            body = Report.model_validate(report.body)
            filed[str(report.id)] = file_report(
                place, member, report.id, report.body, body, TODAY
            )
            for seen in report.followups:
                later = Followup.model_validate(seen.body)
                follow_up(place, member, report.id, seen.id, seen.body, later, TODAY)
        yield pool, filed


def share(reports: list[InventedReport], wanted: Any) -> float:
    return sum(bool(wanted(report.body)) for report in reports) / len(reports)


def attempts(body: dict[str, Any]) -> list[dict[str, Any]]:
    return list(body.get("attempts", ()))


def causes(body: dict[str, Any]) -> list[dict[str, Any]]:
    return [body["cause"]] if "cause" in body else list(body.get("causes", ()))


def test_every_report_is_taken(
    loaded: tuple[Pool, dict[str, Filed]], reports: list[InventedReport]
) -> None:
    pool, filed = loaded
    assert len(filed) == len(reports) >= 200
    assert all(one.created for one in filed.values()), "no id stands for two"
    assert pool.store.report_count() == len(reports)


def test_it_says_of_itself_that_it_is_invented() -> None:
    assert "invented" in label().lower()
    assert "made up" in label()


def test_it_comes_from_25_people_or_more_none_of_whom_writes_it_all(
    reports: list[InventedReport],
) -> None:
    wrote = Counter(report.who for report in reports)
    assert len(wrote) >= 25
    assert max(wrote.values()) < 0.2 * len(reports)


def test_all_kinds_of_set_are_in_it(reports: list[InventedReport]) -> None:
    excitations = Counter(report.body["machine"].get("excitation") for report in reports)
    fuels = Counter(report.body["machine"]["fuel"] for report in reports)
    assert all(excitations[kind] >= 3 for kind in EXCITATIONS), excitations
    assert set(fuels) <= FUELS
    assert sum(number >= 3 for number in fuels.values()) >= 4, fuels
    kva = [r.body["machine"]["rated_kva"] for r in reports if "rated_kva" in r.body["machine"]]
    assert min(kva) < 3
    assert max(kva) > 20


def test_seventy_different_causes_or_more_are_in_it(
    reports: list[InventedReport], catalogue: Catalogue
) -> None:
    found = Counter(
        f"{cause['component']}/{cause['failure']}"
        for report in reports
        for cause in causes(report.body)
        if "failure" in cause
    )
    assert len(found) >= 70
    known = [key for key in found if key in catalogue.cause_by_key]
    assert len(known) >= 70, "and the catalogue knows as many of them"


def test_repairs_go_as_repairs_do(reports: list[InventedReport]) -> None:
    wrong_first = share(
        reports,
        lambda body: (
            body["outcome"] == "repaired"
            and attempts(body)
            and attempts(body)[0]["action"] != "test"
            and attempts(body)[0]["result"] in ("no-change", "worse")
        ),
    )
    assert wrong_first >= 0.15, "a wrong part was tried first"
    unresolved = ("not-repaired", "open", "retired", "sent-away", "cleared-itself")
    assert share(reports, lambda body: body["outcome"] in unresolved) >= 0.05
    get_bys = [
        report
        for report in reports
        if report.body["outcome"] == "get-by"
        or any(attempt["action"] == "bypass" for attempt in attempts(report.body))
    ]
    assert len(get_bys) >= 5
    assert share(reports, lambda body: body.get("readings")) >= 0.5
    followed = sum(bool(report.followups) for report in reports) / len(reports)
    assert followed >= 0.3
    states = Counter(seen.body["state"] for report in reports for seen in report.followups)
    assert states["returned"] >= 3, "some did not hold"


def test_every_reading_in_it_is_understood(
    loaded: tuple[Pool, dict[str, Filed]], reports: list[InventedReport]
) -> None:
    _, filed = loaded
    for report in reports:
        kept = filed[str(report.id)].report["readings"]
        assert len(kept) == len(report.body.get("readings", ())), report.body["complaint"]
        for reading in kept:
            assert reading["verdict"] in {"low", "within", "high", "unjudged"}
            assert reading["said"]


def test_most_complaints_are_understood(loaded: tuple[Pool, dict[str, Filed]]) -> None:
    _, filed = loaded
    told = [one.report for one in filed.values() if "complaint" in one.report]
    assert sum(bool(report["symptoms"]) for report in told) >= 0.9 * len(told)


def test_no_part_is_touched_on_a_set_that_has_none(
    reports: list[InventedReport], catalogue: Catalogue
) -> None:
    for report in reports:
        machine = Machine.model_validate(report.body["machine"])
        touched = {a["component"] for a in attempts(report.body)}
        touched |= {cause["component"] for cause in causes(report.body)}
        for component in touched:
            only = catalogue.components[component].only
            assert admits(only, machine), (component, report.body["complaint"])


def test_no_month_is_still_to_come_and_none_before_its_repair(
    reports: list[InventedReport],
) -> None:
    for report in reports:
        assert report.body["happened"] <= TODAY.strftime("%Y-%m")
        for seen in report.followups:
            assert report.body["happened"] <= seen.body["happened"] <= TODAY.strftime("%Y-%m")


def test_nothing_in_it_names_anyone(loaded: tuple[Pool, dict[str, Filed]]) -> None:
    _, filed = loaded
    removed = {name: one.report["removed"] for name, one in filed.items()}
    assert {name: kinds for name, kinds in removed.items() if kinds} == {}


def test_its_answers_rest_on_it(loaded: tuple[Pool, dict[str, Filed]]) -> None:
    pool, _ = loaded
    question = Question.model_validate(
        {
            "machine": {"fuel": "diesel", "excitation": "brushed-avr", "rated_kva": 6.5},
            "complaint": "engine runs sweet but nothing at the outlets",
        }
    )
    answer = ask(pool.service.place, question)
    assert not answer.evidence.from_catalogue_only
    assert answer.evidence.contributors >= 3
    assert any(fix.tried >= 3 and fix.people >= 2 for fix in answer.fixes)
    assert all(fix.action != "bypass" for fix in answer.fixes)
