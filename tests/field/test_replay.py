"""Answers given again lead to the same place, whatever was typed in between."""

from collections.abc import Generator
from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool_field.questions import Asking, Step, ask_minutes, ask_one, ask_yes
from mendpool_field.replay import Stopped, WentBack, answered, is_complete

CODES = {"low": "too low", "high": "too high"}
Told = tuple[str, float | None, list[str], bool | None]


def some_lines(asks: str) -> Asking:
    held: list[str] = []
    while typed := (yield Step(asks)).strip():
        held.append(typed)
    return held


def dialog() -> Generator[Step, str, Told]:
    code = yield from ask_one("Which?", CODES, needed=True)
    minutes = yield from ask_minutes("How long?")
    words = yield from some_lines("What?")
    yes = yield from ask_yes("Sure?", "yes", "no", "One key")
    return code, minutes, words, yes


@dataclass
class Person:
    """Types some lines, then pulls the battery."""

    types: list[str]
    asked: list[str] = field(default_factory=list)

    def ask(self, step: Step) -> str:
        self.asked.append(step.asks)
        if not self.types:
            raise EOFError
        return self.types.pop(0)


def test_a_dialogue_returns_what_it_found() -> None:
    typed: list[str] = []
    person = Person(["2", "40", "one", "two", "", "y"])
    assert answered(dialog, typed, person, lambda: None) == (
        "high", 40.0, ["one", "two"], True,
    )  # fmt: skip
    assert typed == ["2", "40", "one", "two", "", "y"]
    assert is_complete(dialog, typed)
    assert not is_complete(dialog, typed[:-1])


def test_each_answer_is_kept_before_the_next_question() -> None:
    typed: list[str] = []
    disk: list[list[str]] = []
    with pytest.raises(EOFError):
        answered(dialog, typed, Person(["1", "5"]), lambda: disk.append(list(typed)))
    assert disk == [["1"], ["1", "5"]]


def test_back_asks_the_question_before_and_at_the_first_leaves() -> None:
    typed: list[str] = []
    person = Person(["1", "b", "b"])
    with pytest.raises(WentBack):
        answered(dialog, typed, person, lambda: None)
    assert person.asked == ["Which?", "How long?", "Which?"]


def test_q_stops_and_an_unusable_answer_is_not_kept() -> None:
    typed: list[str] = []
    with pytest.raises(Stopped):
        answered(dialog, typed, Person(["9", "1", "soon", "q"]), lambda: None)
    assert typed == ["1"]


LINES = st.lists(st.sampled_from(["1", "2", "", "b", "soon", "7", "y", "n", "é", "a b"]))


@given(LINES, LINES)
def test_a_battery_that_dies_changes_no_question(before: list[str], after: list[str]) -> None:
    """Typed in one go or with a break after any answer: the same questions, the same end."""
    whole, parts = _run(before + after), _run(before)
    broken = _run(after, parts[1]) if parts[0] is None else parts
    if parts[0] is None:
        assert broken[0] == whole[0]
        assert broken[1] == whole[1]


def _run(
    types: list[str], typed: list[str] | None = None
) -> tuple[Told | str | None, list[str]]:
    held = [] if typed is None else typed
    try:
        return answered(dialog, held, Person(list(types)), lambda: None), held
    except WentBack:
        return "back", held
    except EOFError:
        return None, held
