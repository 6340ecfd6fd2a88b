"""Whatever is typed, and whenever the battery dies: nothing is lost and nothing is doubled."""

import json
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.codes import check_question, check_report
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.record.report import Question, Report
from mendpool_field.questions import Step
from mendpool_field.replay import Stopped
from mendpool_field.sessions import Session
from mendpool_field.walk import Walk

from tests.field.walking import AVR, BRUSHES, LOOK, PROVE, SAFE, SWITCH, VOLTS, Planner

KEYS = [
    "1",
    "1",
    "1",
    "2",
    "3",
    "4",
    "5",
    "6",
    "s",
    "b",
    "w",
    "g",
    "d",
    "e",
    "q",
    "?",
    "",
    "y",
    "n",
]
WORDS = ["0.4", "238 V", "residual 0.4 V", "avr", "brushes", "clean", "oil-switch", "12 lamps"]
TYPED = st.lists(st.sampled_from([*KEYS, *WORDS]), max_size=25)
CATALOGUE = packaged_catalogue()


class Person:
    """Types some lines, then the battery dies."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = list(lines)

    def tell(self, kind: str, body: Mapping[str, Any], lines: Sequence[str]) -> None:
        json.dumps([kind, body])
        assert all(len(line) <= 60 for line in lines)

    def ask(self, step: Step) -> str:
        assert step.asks
        if not self.lines:
            raise EOFError
        return self.lines.pop(0)


def walked(
    disk: dict[str, Any], lines: Sequence[str], catalogue: Catalogue
) -> tuple[dict[str, Any], dict[str, Any] | None]:
    """Walk from what the disk holds; return what it holds then, and the report at the end."""
    session = Session(**json.loads(json.dumps(disk)))
    held: list[dict[str, Any]] = [disk]

    def keep() -> None:
        held.append(json.loads(json.dumps(asdict(session))))

    check: Callable[[Mapping[str, Any]], None] = lambda question: check_question(  # noqa: E731
        Question.model_validate(question), catalogue
    )
    run = Walk(
        session,
        catalogue,
        Planner(SAFE, LOOK, VOLTS, SWITCH, PROVE, AVR, BRUSHES),
        Person(lines),
        keep=keep,
        asked=check,
        now_s=lambda: 0.0,
        width=60,
    )
    report = None
    with suppress(EOFError, Stopped):
        report = run.to_the_end()
    return held[-1], report


def begun() -> dict[str, Any]:
    session = Session(on="barn", machine={"fuel": "diesel"}, asked={"complaint": "no power"})
    return asdict(session)


@given(TYPED)
def test_whatever_is_typed_what_comes_of_it_is_a_report_the_wire_takes(
    typed: list[str],
) -> None:
    disk, report = walked(begun(), ["d", *typed], CATALOGUE)
    assert asdict(Session(**disk)) == disk
    if report is not None:
        check_report(Report.model_validate(report), CATALOGUE)


@given(TYPED, TYPED)
def test_a_battery_that_dies_between_two_answers_changes_nothing(
    before: list[str], after: list[str]
) -> None:
    before = [line for line in before if line != "q"]
    first, _ = walked(begun(), ["d", *before], CATALOGUE)
    resumed, _ = walked(first, after, CATALOGUE)
    whole, _ = walked(begun(), ["d", *before, *after], CATALOGUE)
    for disk in (resumed, whole):
        disk.pop("kept_s")
    assert resumed == whole


@pytest.mark.parametrize("key", ["s", "w", "?", "zzz"])
def test_no_key_passes_what_must_be_made_safe(key: str) -> None:
    disk, _ = walked(begun(), [key, "1"], CATALOGUE)
    assert disk["log"] == []
