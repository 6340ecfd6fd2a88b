"""Questions: what an answer always holds, whatever is asked."""

import json
from collections.abc import Iterator, Sequence
from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue

from tests.api.pools import Pool, rows, running_pool
from tests.databases import Databases
from tests.factories import make_report

PARTS = (
    "cautions", "symptoms", "readings", "causes", "fixes", "get_bys", "plan",
    "expected_minutes", "similar", "evidence",
)  # fmt: skip
BRUSHED = {"fuel": "diesel", "excitation": "brushed-avr", "rated_kva": 6.5, "phases": 1}
DEAD = {"machine": BRUSHED, "complaint": "engine runs sweet but nothing at the outlets"}
QUESTIONS: Sequence[dict[str, Any]] = (
    DEAD,
    {"symptoms": ["hunting"]},
    {"readings": [{"text": "output 271 V no load"}]},
    {"observations": [{"check": "alternator-look", "found": "inverter"}]},
    {"machine": {"fuel": "petrol"}, "complaint": "xyzzy plugh"},
    {"machine": {"fuel": "lpg", "excitation": "inverter"}, "symptoms": ["runaway"], "limit": 1},
)


@pytest.fixture(scope="module")
def pool(databases: Databases, catalogue: Catalogue) -> Iterator[Pool]:
    """Give a pool where brushes and a regulator were found at fault, each by three people."""
    with running_pool(databases, catalogue) as running:
        running.join("rowan")
        for name, words in (("alder", "dead"), ("birch", "no volts"), ("rowan", "lights out")):
            running.put(make_report(complaint=f"engine runs sweet, {words} at outlets"), name)
            running.put(failed_regulator(words), name)
        yield running


def failed_regulator(words: str) -> dict[str, Any]:
    return make_report(
        complaint=f"stopped making power, {words}",
        symptoms=["no-output"],
        attempts=[{"component": "avr", "action": "replace", "result": "fixed", "cost": 60}],
        cause={"component": "avr", "failure": "failed"},
    )


def ask(pool: Pool, question: dict[str, Any], **more: Any) -> dict[str, Any]:
    answer = pool.client("alder").post("/v1/ask", json={**question, **more})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def probability(answer: dict[str, Any], component: str) -> float:
    return float(sum(c["probability"] for c in answer["causes"] if c["component"] == component))


def checks(answer: dict[str, Any]) -> list[str]:
    return [step["check"] for step in answer["plan"] if step["do"] == "test"]


@pytest.mark.parametrize("question", QUESTIONS)
def test_every_part_is_there_and_the_plan_ends_in_a_call(
    pool: Pool, question: dict[str, Any]
) -> None:
    answer = ask(pool, question)
    assert set(PARTS) <= set(answer)
    assert "carbon-monoxide" in {caution["code"] for caution in answer["cautions"]}
    assert all(caution["says"] and caution["source"] for caution in answer["cautions"])
    assert answer["plan"][-1]["do"] == "call"
    assert {step["do"] for step in answer["plan"]} <= {"safe", "test", "fix", "prove", "call"}
    assert all(step["says"] for step in answer["plan"])
    assert answer["expected_minutes"] > 0


@pytest.mark.parametrize("question", QUESTIONS)
def test_causes_are_ten_or_nearly_all_and_hold_something_else(
    pool: Pool, question: dict[str, Any]
) -> None:
    causes = ask(pool, question)["causes"]
    shares = [cause["probability"] for cause in causes]
    components = {cause["component"] for cause in causes}
    assert len(components) >= 10 or sum(shares) >= 0.95
    assert sum(shares) <= 1.0001
    assert [c["failure"] for c in causes if c["component"] is None] == [None], "something else"
    assert shares == sorted(shares, reverse=True)
    assert all(0 <= c["catalogue_share"] <= 1 for c in causes)


@pytest.mark.parametrize("question", QUESTIONS)
def test_the_same_question_gives_the_same_bytes(pool: Pool, question: dict[str, Any]) -> None:
    client = pool.client("alder")
    first = client.post("/v1/ask", json=question).content
    turned = dict(reversed(question.items()))
    assert client.post("/v1/ask", json=turned).content == first
    assert pool.client("birch").post("/v1/ask", json=question).content == first


def test_a_question_stores_nothing(pool: Pool) -> None:
    before = rows(pool.store)
    ask(pool, DEAD)
    assert rows(pool.store) == before


def test_a_report_just_filed_is_found_by_the_very_next_question(pool: Pool) -> None:
    before = pool.client("alder").post("/v1/ask", json=DEAD)
    report_id = pool.put(make_report(complaint=DEAD["complaint"], outcome="open"), "birch")
    after = ask(pool, DEAD)
    assert report_id in {found["report"] for found in after["similar"]}
    searched = before.json()["evidence"]["reports_searched"]
    assert after["evidence"]["reports_searched"] == searched + 1
    pool.client("birch").delete(f"/v1/reports/{report_id}")
    gone = ask(pool, DEAD)
    assert gone["evidence"]["reports_searched"] == searched
    assert report_id not in json.dumps(gone)


def test_what_reports_say_moves_the_answer(fresh: Pool) -> None:
    before = ask(fresh, DEAD)
    assert before["evidence"]["from_catalogue_only"]
    assert all(fix["tried"] == 0 and fix["rate"] is None for fix in before["fixes"])
    for name in ("alder", "birch", "steward"):
        fresh.put(make_report(complaint=f"{DEAD['complaint']}, {name}"), name)
    after = ask(fresh, DEAD)
    assert not after["evidence"]["from_catalogue_only"]
    assert probability(after, "brushes") > probability(before, "brushes")
    fix = next(f for f in after["fixes"] if f["component"] == "brushes")
    assert (fix["action"], fix["tried"], fix["fixed"], fix["people"]) == ("replace", 3, 3, 3)
    assert 0 < fix["low"] < fix["rate"] < fix["high"] <= 1
    failed = next(
        f for f in after["fixes"] if (f["component"], f["action"]) == ("avr", "replace")
    )
    assert (failed["tried"], failed["fixed"]) == (3, 0)


def test_plain_counts_are_of_real_attempts_and_a_test_is_none(fresh: Pool) -> None:
    attempts = [
        {"component": "brushes", "action": "test", "result": "found-good"},
        {"component": "avr", "action": "replace", "result": "part-no-good"},
        {"component": "avr", "action": "replace", "result": "fixed"},
    ]
    cause = {"component": "avr", "failure": "failed"}
    fresh.put(make_report(complaint=DEAD["complaint"], attempts=attempts, cause=cause))
    counted = {(f["component"], f["action"]): f["tried"] for f in ask(fresh, DEAD)["fixes"]}
    assert counted["avr", "replace"] == 1
    assert ("brushes", "test") not in counted


@pytest.mark.parametrize("result", ["no-change", "found-good"])
def test_what_was_tried_rules_down_and_never_out(pool: Pool, result: str) -> None:
    action = "test" if result == "found-good" else "replace"
    tried = [{"component": "avr", "action": action, "result": result}]
    before, after = ask(pool, DEAD), ask(pool, DEAD, tried=tried)
    assert 0 < probability(after, "avr") < probability(before, "avr") / 1.5
    assert probability(after, "brushes") > probability(before, "brushes")


def test_what_was_tried_is_not_advised_again_unless_the_new_part_was_bad(pool: Pool) -> None:
    tried = {"component": "avr", "action": "replace"}
    for result, again in (("no-change", False), ("part-no-good", True)):
        plan = ask(pool, DEAD, tried=[{**tried, "result": result}])["plan"]
        steps = {(step.get("component"), step.get("action")) for step in plan}
        assert (("avr", "replace") in steps) is again, result


def test_the_walk_round_comes_before_any_part_is_touched(pool: Pool) -> None:
    for question in QUESTIONS:
        steps = [step for step in ask(pool, question)["plan"] if step["do"] != "safe"]
        assert steps[0]["check"] == "walk-round"


def test_a_walk_round_that_was_made_is_not_asked_for(pool: Pool, catalogue: Catalogue) -> None:
    found = next(iter(catalogue.checks["walk-round"].found))
    answer = ask(pool, DEAD, observations=[{"check": "walk-round", "found": found}])
    assert "walk-round" not in checks(answer)


def test_nothing_that_was_told_is_asked_again(pool: Pool, catalogue: Catalogue) -> None:
    told: dict[str, str] = {}
    for _ in range(12):
        observations = [{"check": check, "found": found} for check, found in told.items()]
        asked = checks(ask(pool, DEAD, observations=observations))
        assert not set(asked) & set(told)
        if not asked:
            break
        found = catalogue.checks[asked[0]].found
        told[asked[0]] = max(found, key=lambda code: found[code].usual)
    assert len(told) >= 4, "several steps were walked"


def test_a_number_that_was_given_is_not_asked_for(pool: Pool, catalogue: Catalogue) -> None:
    reading = {"quantity": "voltage-ac", "point": "output", "value": 4, "unit": "V"}
    asked = checks(ask(pool, DEAD, readings=[{**reading, "condition": "no-load"}]))
    places = [catalogue.checks[check].reading for check in asked]
    assert ("voltage-ac", "output", "no-load") not in [
        (place.quantity, place.point, place.condition) for place in places if place is not None
    ]


@pytest.mark.parametrize("excitation", [None, "not-known"])
def test_a_look_that_tells_the_kind_of_set_is_advised_when_it_pays(
    pool: Pool, catalogue: Catalogue, excitation: str | None
) -> None:
    machine = {"fuel": "petrol", **({"excitation": excitation} if excitation else {})}
    looks = {code for code, check in catalogue.checks.items() if check.tells == "excitation"}
    answer = ask(pool, {"machine": machine, "complaint": "engine runs, no output"})
    steps = [step for step in answer["plan"] if step.get("check") in looks]
    assert len(steps) == 1
    assert steps[0]["saves"] >= 1
    assert 0.99 <= sum(answer["understood"]["kinds"].values()) <= 1.01
    known = ask(
        pool, {"machine": {**machine, "excitation": "capacitor"}, "symptoms": ["no-output"]}
    )
    assert not looks & set(checks(known))
    elsewhere = ask(
        pool, {"machine": machine, "symptoms": ["no-crank"], "complaint": "dead battery"}
    )
    assert not looks & set(checks(elsewhere)), "where the kind decides nothing it does not pay"


def test_a_look_that_was_made_settles_the_kind(pool: Pool) -> None:
    question = {"machine": {"fuel": "petrol"}, "symptoms": ["no-output"]}
    look = [{"check": "alternator-look", "found": "inverter"}]
    answer = ask(pool, question, observations=look)
    assert answer["understood"]["kinds"] == {}
    assert probability(answer, "brushes") == 0, "an inverter set has none"
    assert probability(answer, "inverter-module") > 0.05


def test_readings_are_found_in_what_was_said(pool: Pool) -> None:
    words = "runs fine, 3 volts at the outlets with no load and 61,5 hz"
    answer = ask(pool, {"machine": BRUSHED, "complaint": words})
    found = {(r["quantity"], r["point"]): (r["value"], r["unit"]) for r in answer["readings"]}
    assert found == {("voltage-ac", "output"): (3, "V"), ("frequency", "output"): (61.5, "Hz")}
    assert all(r["verdict"] and r["source"] and r["said"] for r in answer["readings"])


def test_where_a_symptom_came_from_is_told(pool: Pool) -> None:
    answer = ask(pool, {"complaint": "it hunts", "symptoms": ["no-output"]})
    origin = {s["code"]: s["from"] for s in answer["symptoms"]}
    assert origin["no-output"] == "said"
    assert origin["hunting"] == "complaint"
    assert all(0 < s["confidence"] <= 1 for s in answer["symptoms"])


@pytest.mark.parametrize("limit", [1, 2, 50])
def test_the_limit_bounds_fixes_and_similar_only(pool: Pool, limit: int) -> None:
    usual, asked = ask(pool, DEAD), ask(pool, DEAD, limit=limit)
    assert 2 < len(usual["fixes"]) <= 10
    assert len(asked["fixes"]) <= limit
    assert len(asked["similar"]) <= limit
    shorter = min(limit, 10)
    assert asked["fixes"][:shorter] == usual["fixes"][:shorter]
    assert asked["similar"][:shorter] == usual["similar"][:shorter]
    for part in set(usual) - {"fixes", "similar"}:
        assert asked[part] == usual[part], part


@pytest.mark.parametrize("limit", [0, 51, 1.5, "3", True])
def test_a_limit_out_of_bounds_is_refused(pool: Pool, limit: object) -> None:
    answer = pool.client("alder").post("/v1/ask", json={**DEAD, "limit": limit})
    assert (answer.status_code, answer.json()["errors"][0]["at"]) == (422, "/limit")


@pytest.mark.parametrize(
    ("change", "at", "meant"),
    [
        ({"symptoms": ["no-outptu"]}, "/symptoms/0", "no-output"),
        ({"machine": {"fuel": "deisel"}}, "/machine/fuel", "diesel"),
        ({"machine": {"excitation": "brushd-avr"}}, "/machine/excitation", "brushed-avr"),
        (
            {"tried": [{"component": "brushs", "action": "replace", "result": "fixed"}]},
            "/tried/0/component",
            "brushes",
        ),
        (
            {"tried": [{"component": "avr", "action": "replase", "result": "fixed"}]},
            "/tried/0/action",
            "replace",
        ),
        ({"before": ["stood-lon"]}, "/before/0", "stood-long"),
        ({"readings": [{"quantity": "voltag-ac"}]}, "/readings/0/quantity", "voltage-ac"),
        (
            {"observations": [{"check": "walk-rond", "found": "x"}]},
            "/observations/0/check",
            "walk-round",
        ),
        ({"machin": {}}, "/machin", "machine"),
    ],
)
def test_an_unknown_code_is_refused_with_the_one_meant(
    pool: Pool, change: dict[str, Any], at: str, meant: str
) -> None:
    answer = pool.client("alder").post("/v1/ask", json={**DEAD, **change})
    assert answer.status_code == 422
    fault = answer.json()["errors"][0]
    assert (fault["at"], fault["did_you_mean"]) == (at, meant)
    assert meant in answer.json()["detail"]


def test_something_must_be_asked(pool: Pool) -> None:
    for question in ({}, {"machine": BRUSHED}, {"machine": BRUSHED, "complaint": ""}):
        assert pool.client("alder").post("/v1/ask", json=question).status_code == 422


def test_similar_reports_say_why_and_how_they_ended(pool: Pool) -> None:
    answer = ask(pool, DEAD)
    assert answer["similar"]
    held = {r["id"] for r in pool.client("alder").get("/v1/reports").json()["items"]}
    for found in answer["similar"]:
        assert found["report"] in held
        assert 0 < found["similarity"] <= 1
        assert found["because"]
        assert found["outcome"] == "repaired"
    shares = [found["similarity"] for found in answer["similar"]]
    assert shares == sorted(shares, reverse=True)
    assert answer["evidence"]["contributors"] == 3
