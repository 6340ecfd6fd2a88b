"""The page's own rules: what is due, how a trouble ended, what is taken out of a text.

They are loaded by a real browser, from the files and from nowhere else.
"""

import json
import math
from typing import TYPE_CHECKING, Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.evidence.getting_by import (
    is_left_defeated,
    only_gets_by,
    proposed_outcome,
    told_outcome,
)

from tests.phone.bare import page
from tests.phone.vectors.make_scrub import FILE

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.phone
__all__ = ["page"]
ID = "0193a000-0000-7000-8000-00000000000"


def called(page: "Page", module: str, name: str, *given: Any) -> Any:
    """Call a function of a module of the page."""
    return page.evaluate(
        "async ([m, n, given]) => (await import(`/page/lib/${m}.js`))[n](...given)",
        [module, name, list(given)],
    )


def report(
    happened: str | None, *seen: tuple[str, str], outcome: str = "repaired"
) -> dict[str, Any]:
    """Return a report as the page keeps it, with its follow-ups."""
    followups = [{"happened": month, "state": state} for month, state in seen]
    return {"id": f"{ID}1", "outcome": outcome, "happened": happened, "followups": followups}


# Repaired in August 2025 unless said otherwise, looked at in `now`.
DUE: tuple[tuple[str, dict[str, Any], str, int | None], ...] = (
    ("two months are too early", report("2025-08"), "2025-10", None),
    ("three are not", report("2025-08"), "2025-11", 3),
    ("over the turn of the year", report("2025-11"), "2026-02", 3),
    ("told at three", report("2025-08", ("2025-11", "holding")), "2026-05", None),
    ("told too early", report("2025-08", ("2025-10", "holding")), "2025-11", 3),
    ("a year", report("2025-08", ("2025-11", "holding")), "2026-08", 12),
    ("a year, never told", report("2025-08"), "2027-01", 12),
    ("told after a year", report("2025-08", ("2026-08", "holding")), "2028-01", None),
    ("it came back", report("2025-08", ("2025-09", "returned")), "2026-09", None),
    ("changed for another reason", report("2025-08", ("2025-09", "superseded")), "2026", None),
    ("it got by", report("2025-08", outcome="get-by"), "2025-11", 3),
    ("it came right", report("2025-08", outcome="cleared-itself"), "2025-11", 3),
    ("it was not repaired", report("2025-08", outcome="not-repaired"), "2025-11", None),
    ("nobody knows when", report(None), "2025-11", None),
    ("only the year is known", report("2025"), "2026-11", None),
)


@pytest.mark.parametrize(("told", "now", "mark"), [d[1:] for d in DUE], ids=[d[0] for d in DUE])
def test_a_repair_is_due_at_three_months_and_at_a_year(
    page: "Page", told: dict[str, Any], now: str, mark: int | None
) -> None:
    assert called(page, "due", "markDue", told, now) == mark


def test_the_longest_overdue_comes_first(page: "Page") -> None:
    when = ["2025-08", "2025-05", None, "2025-10", "2024-11", "2025-09"]
    reports = [report(month) | {"id": f"{ID}{i}"} for i, month in enumerate(when)]
    reports.append(report("2025-01", outcome="retired"))
    found = called(page, "due", "sorted", reports, "2025-11")
    # Overdue by 3 months, by none twice (the later id first); then what is not due.
    assert [one["report"]["id"][-1] for one in found["due"]] == ["1", "4", "0"]
    assert [one["report"]["id"][-1] for one in found["others"]] == ["3", "5", "2"]


def test_months_are_counted_over_years(page: "Page") -> None:
    for month, back, told in (("2026-01", 1, "2025-12"), ("2026-11", 23, "2024-12")):
        assert called(page, "due", "monthBefore", month, back) == told


def attempt(component: str, action: str, result: str) -> dict[str, str]:
    """Return an attempt as it is sent."""
    return {"component": component, "action": action, "result": result}


ENDS: tuple[list[dict[str, str]], ...] = (
    [],
    [attempt("brushes", "replace", "fixed")],
    [attempt("brushes", "replace", "fixed"), attempt("avr", "replace", "no-change")],
    [attempt("fuel-solenoid", "bypass", "fixed")],
    [attempt("oil-switch", "remove", "fixed")],
    [attempt("oil-switch", "bypass", "improved"), attempt("brushes", "replace", "fixed")],
    [attempt("oil-switch", "bypass", "no-change"), attempt("brushes", "replace", "fixed")],
    [attempt("oil-switch", "bypass", "fixed"), attempt("oil-switch", "replace", "fixed")],
    [attempt("oil-switch", "bypass", "fixed"), attempt("oil-switch", "test", "found-good")],
    [attempt("brushes", "remove", "fixed")],
)


@pytest.mark.parametrize("said", [None, "intact", "restored", "untested", "defeated"])
@pytest.mark.parametrize("tried", ENDS, ids=lambda tried: "+".join(a["action"] for a in tried))
def test_it_ends_as_the_field_command_says(
    page: "Page", catalogue: Catalogue, tried: list[dict[str, str]], said: str | None
) -> None:
    protections = catalogue.sets.protections
    told = called(page, "ending", "protectionOf", said)
    body = {"attempts": tried, **told}
    assert called(
        page, "ending", "proposedOutcome", tried, protections, said
    ) == proposed_outcome(body, protections)
    defeated = is_left_defeated(body, protections)
    assert called(page, "ending", "isLeftDefeated", tried, protections, said) is defeated
    for outcome in catalogue.vocabulary.outcomes:
        told = called(page, "ending", "outcomeOf", outcome, tried, protections, said)
        assert told == told_outcome(outcome, body, protections)
        # A set that runs without a protection is never told of as repaired.
        assert not (defeated and told == "repaired")


def test_what_gets_by_is_no_cure(page: "Page", catalogue: Catalogue) -> None:
    protections = catalogue.sets.protections
    for tried in ENDS:
        for one in tried:
            gets_by = only_gets_by(one["component"], one["action"], protections)
            assert called(page, "ending", "onlyGetsBy", one, protections) is gets_by
        cure = called(page, "ending", "cureOf", tried, protections)
        cures = [
            a
            for a in tried
            if a["result"] == "fixed"
            and not only_gets_by(a["component"], a["action"], protections)
        ]
        assert cure == (cures[-1] if cures else None)


def test_what_has_a_shape_goes_and_the_trade_stays(page: "Page") -> None:
    lines = json.loads(FILE.read_text("utf-8"))
    told = page.evaluate(
        """async (lines) => {
          const { scrub } = await import('/page/lib/scrub.js');
          return lines.map(({ text }) => scrub(text));
        }""",
        lines,
    )
    asked = left = 0
    for line, done in zip(lines, told, strict=True):
        words = page_words(done["text"])
        assert words.isdisjoint(line.get("gone", ())), line["text"]
        if "same" in line:
            assert done["text"] == line["text"]
        for number in line.get("stays", ()):
            unsure = [one["words"] for one in done["taken"] if not one["sure"]]
            kept = number in done["text"]
            # What is taken without being sure is asked about; nothing is lost in silence.
            assert kept or any(number in one or one in number for one in unsure), line["text"]
            left += kept
            asked += not kept
    assert left >= 2 * asked


def page_words(text: str) -> set[str]:
    """Return the words of a text, without the marks of what was taken out."""
    for kind in ("name", "email", "address", "position", "link", "number", "day"):
        text = text.replace(f"[{kind}]", " ")
    return set("".join(c if c.isalnum() or c == "_" else " " for c in text).split())


def test_scrubbing_twice_changes_nothing_and_long_runs_end(page: "Page") -> None:
    runs = [
        piece * (4000 // len(piece))
        for piece in ("a", "7", "1 ", "a.", "@", "lat 1.1 ", "\U0001d49c")
    ]
    lines = [line["text"] for line in json.loads(FILE.read_text("utf-8"))] + runs
    once = page.evaluate(
        """async (lines) => {
          const { scrub } = await import('/page/lib/scrub.js');
          const once = lines.map((text) => scrub(text).text);
          return once.map((text) => [text, scrub(text).text]);
        }""",
        lines,
    )
    assert [one for one, _ in once] == [twice for _, twice in once]


CUTS = (
    ("old Tomkins looked", "old [name] looked", ["old ", ("Tomkins", "name"), " looked"]),
    ("Tomkins", "[name]", [("Tomkins", "name")]),
    (
        "ask Ann Onim or Tom, he knows",
        "ask [name] or [name], he knows",
        ["ask ", ("Ann Onim", "name"), " or ", ("Tom", "name"), ", he knows"],
    ),
    ("ring [number] now", "ring [number] now", ["ring ", "[number]", " now"]),
    (
        "[number] or Tom Tom",
        "[number] or [name]",
        ["[number]", " or ", ("Tom Tom", "name")],
    ),
    ("nothing of it", "nothing of it", ["nothing of it"]),
)


@pytest.mark.parametrize(("before", "after", "pieces"), CUTS)
def test_what_went_is_found_by_comparing(
    page: "Page", before: str, after: str, pieces: list[str | tuple[str, str]]
) -> None:
    wanted = [
        {"text": one} if isinstance(one, str) else {"gone": one[0], "kind": one[1]}
        for one in pieces
    ]
    assert called(page, "removed", "cut", before, after) == wanted


def test_a_text_that_is_not_of_the_other_is_not_cut(page: "Page") -> None:
    assert called(page, "removed", "cut", "all is well", "[name] came by") is None


FIGURES = (
    ("12.5", 12.5), ("12,5", 12.5), (" -3 ", -3), (".5", 0.5), ("0,125", 0.125),
    ("1 500", 1500), ("1,500.5", 1500.5), ("1.500,5", 1500.5), ("1,234,567", 1234567),
    ("12.3456", 12.3456), ("1.500", 1.5), ("1500", 1500), ("1,500", None), ("12,345", None),
    ("1.5.2", None),
    ("1 5", None), ("12 V", None), ("", None), ("1,50,000.5", None),
)  # fmt: skip
"""As a phone reads them that writes decimals with a point; None is asked again."""


def test_a_figure_is_never_read_a_thousandfold_off(page: "Page") -> None:
    assert [
        None if math.isnan(value := called(page, "words", "typed", said)) else value
        for said, _ in FIGURES
    ] == [meant for _, meant in FIGURES]
    page.evaluate("async () => (await import('/page/lib/words.js')).useLanguage('en')")
    told = called(page, "words", "notTaken", "1,500", "Hours")
    assert told == "Hours: 1,500 can be read two ways. Type 1500, or 1.5."
    assert "a figure such as" in called(page, "words", "notTaken", "12 V", "Hours")


# What is typed with cold fingers, and the sign that is meant; from memory.
TYPED = (
    ("will not crank", "no-crank"), ("won't turn over", "no-crank"),
    ("wont start", "cranks-no-start"), ("no power at the outlets", "no-output"),
    ("engine runs sweet but nothing at the outlets", "no-output"), ("black smo", "black-smoke"),
    ("white smoke", "white-smoke"), ("blue smoke", "blue-smoke"), ("overheating", "overheats"),
    ("gets hot and shuts down", "overheats"), ("low volts", "low-voltage"),
    ("voltage too high", "high-voltage"), ("surging up and down", "hunting"),
    ("trips breaker", "trips-breaker"), ("rcd trips", "trips-rcd"), ("clicks", "clicks-only"),
    ("lights flicker", "unsteady-voltage"), ("starts then stops", "starts-then-stops"),
    ("leaking oil", "oil-leak"), ("burning smell", "burning-smell"), ("backfires", "backfires"),
    ("hard to start cold", "hard-start"), ("will not stop", "will-not-stop"),
    ("knocking noise", "noise"), ("bogs down under load", "drops-under-load"),
)  # fmt: skip
PARTS = (
    ("brus", "brushes"), ("avr", "avr"), ("bat", "battery"), ("diode", "rotating-diodes"),
    ("capacitor", "capacitor"), ("spark plug", "spark-plug"), ("fuel filter", "fuel-filter"),
)  # fmt: skip


def test_what_is_meant_is_offered_while_it_is_typed(page: "Page", catalogue: Catalogue) -> None:
    for entries, typed, most in (
        (catalogue.symptoms, TYPED, 6),
        (catalogue.components, PARTS, 4),
    ):
        phrases = {code: [one.label, *one.aliases] for code, one in entries.items()}
        found = page.evaluate(
            """async ([phrases, texts, most]) => {
              const { finder } = await import('/page/lib/find.js');
              const find = finder(phrases);
              return texts.map((text) => find(text, () => true, most));
            }""",
            [phrases, [text for text, _ in typed], most],
        )
        told = {text: codes for (text, _), codes in zip(typed, found, strict=True)}
        assert {text: told[text] for text, code in typed if code not in told[text]} == {}
        assert sum(told[text][0] == code for text, code in typed) >= 0.9 * len(typed)


def test_nothing_is_offered_for_nothing(page: "Page") -> None:
    script = """async ([phrases, text]) => {
      const { finder } = await import('/page/lib/find.js');
      return finder(phrases)(text);
    }"""
    phrases = {"no-output": ["no volts at the outlets"], "noise": ["a loud noise"]}
    for text in ("", "  ", "the it is", "zebra", "ωωω", "\U0001f600"):
        assert page.evaluate(script, [phrases, text]) == []
