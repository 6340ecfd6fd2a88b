"""Cases as the index gives them: those that were stored, however they came to lie there."""

import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.candidates import Candidates, Names
from mendpool.core.evidence.case import (
    Case,
    Tried,
    case_from_text,
    case_to_text,
    months_later,
)
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Question
from mendpool.index.cases import cases_of
from mendpool.index.finder import Finder
from mendpool.index.folder import Folder
from mendpool.index.later import NOTHING, Later
from mendpool.index.told import Values, told_of, whose_of

from tests.factories import make_case, make_id

Came = tuple[int, Case, list[tuple[str, str]]]

ALL = {"k:fuel=diesel": 1, "s:no-output": 3, "w:dead": 7}
CODES = ("no-output", "overheats", "noise", "hunting", "Unicode: ½ ✓")
codes = st.lists(st.sampled_from(CODES), max_size=4, unique=True).map(tuple)
amounts = st.one_of(
    st.none(), st.sampled_from([0, 15, 15.0, 12.37, 1e-9, 1e22]), st.floats(0, 1e6)
)
tried = st.builds(
    Tried,
    st.sampled_from(("brushes", "avr")),
    st.sampled_from(("replace", "clean", "bypass")),
    st.sampled_from((None, "worn")),
    st.sampled_from(("fixed", "no-change")),
    st.integers(1, 3),
    amounts,
    amounts,
)
cases = st.builds(
    make_case,
    group=st.integers(0, (1 << 48) - 1),
    vouched=st.booleans(),
    kind=st.dictionaries(
        st.sampled_from(("fuel", "phases")), st.sampled_from(("diesel", 1, 3)), max_size=2
    ),
    terms=st.lists(
        st.sampled_from((*ALL, "w:hums", "c:avr", "n:noise")), max_size=6, unique=True
    ).map(lambda terms: ("k:fuel=diesel", *(t for t in terms if t != "k:fuel=diesel"))),
    symptoms=codes,
    absent=codes,
    found=codes.map(lambda found: tuple(f"check-{code}=low" for code in found)),
    causes=codes,
    attempts=st.lists(tried, max_size=4).map(tuple),
    outcome=st.sampled_from(("repaired", "well", "open")),
    defeated=st.booleans(),
    words=codes,
    happened=st.sampled_from((None, "2025-12", "2026-03")),
)
later = st.lists(
    st.tuples(
        st.sampled_from(("2026-01", "2026-05", "2027-11")),
        st.sampled_from(("holding", "returned")),
    ),
    max_size=3,
)


def as_stored(case: Case, seen: Sequence[tuple[str, str]]) -> Case:
    """What reading it from the store gives, less what an answer does not need."""
    told = sorted(months_later(case.happened, month, state) for month, state in seen)
    read = case_from_text(
        case_to_text(case), group=case.group, vouched=case.vouched, followups=tuple(told)
    )
    return read._replace(words=(), healthy=())


def add(finder: Finder, seq: int, case: Case) -> None:
    body = json.loads(case_to_text(case))
    whose = whose_of(body, case.group, vouched=case.vouched)
    finder.add(seq, make_id(case_number(case)), body["terms"], whose, told_of(body))


def case_number(case: Case) -> int:
    return int(case.id.replace("-", "")[-12:], 16)


def held_by(finder: Finder, weights: Mapping[str, int] = ALL) -> list[Case]:
    found = finder.cases(weights, 1000)
    assert [case.id for case in found] == [
        case.id for case in sorted(found, key=lambda c: (-score(c, weights), c.id))
    ]
    return list(found)


def score(case: Case, weights: Mapping[str, int]) -> int:
    return sum(weights.get(term, 0) for term in case.terms)


@settings(deadline=None, max_examples=30)
@given(
    st.lists(st.tuples(cases, later), min_size=1, max_size=12),
    st.sampled_from([1, 5, 1000]),
    st.data(),
)
def test_a_case_is_what_was_stored_whatever_came_when(
    tmp_path_factory: pytest.TempPathFactory,
    pool: list[tuple[Case, list[tuple[str, str]]]],
    sliced_from: int,
    data: st.DataObject,
) -> None:
    finder = Finder(sliced_from=sliced_from)
    closed, gone = (
        data.draw(st.sets(st.integers(1, len(pool)), max_size=3)) for _ in ("closed", "gone")
    )
    seq, waiting = 0, []
    for number, (case, seen) in enumerate(pool, start=1):
        seq += 1
        add(finder, seq, case)
        waiting += [(case, month, state) for month, state in seen]
        # Follow-ups of earlier reports come between.
        for _ in range(data.draw(st.integers(0, len(waiting)))):
            of, month, state = waiting.pop()
            seq += 1
            finder.follow_up(seq, make_id(case_number(of)), month, state)
        if number in closed:
            finder.tidy(whole=data.draw(st.booleans()))
        if number in gone:
            finder.remove(make_id(case_number(case)))
    left = {place: seen for place, (_, seen) in enumerate(pool)}
    for of, month, state in waiting:
        place = next(p for p, (case, _) in enumerate(pool) if case.id == of.id)
        left[place] = [*left[place]]
        left[place].remove((month, state))
    wanted = {
        case.id: as_stored(case, left[place])
        for place, (case, _) in enumerate(pool)
        if place + 1 not in gone
    }
    finder.reached(seq)
    assert {case.id: case for case in held_by(finder)} == wanted
    folder = Folder(tmp_path_factory.mktemp("index"), "1")
    folder.publish(finder.tidy(), "")
    loaded = folder.load()
    assert loaded is not None
    again = Finder.of(loaded.closed, sliced_from=sliced_from)
    assert {case.id: repr(case) for case in held_by(again)} == {
        name: repr(case) for name, case in wanted.items()
    }


def a_pool() -> list[Came]:
    """Reports of three makers in many words, some followed up, one seen twice."""
    pool: list[Came] = []
    for number in range(240):
        words = tuple(f"w:{w}" for w in ("dead", "outlet", "hums", "rain")[: 1 + number % 4])
        case = make_case(
            id=str(make_id(7000 + number)),
            group=number % 11,
            vouched=number % 5 != 0,
            terms=("s:no-output", "k:fuel=diesel", *words, f"w:own{number % 17}"),
            causes=("brushes/worn",) if number % 3 else ("avr",),
            attempts=(Tried("brushes", "replace", None, "fixed", 1, 10.0 + number % 9, None),),
        )
        seen = [("2026-08", "holding"), ("2026-05", "returned")][: number % 3]
        pool.append((number + 1, case, seen))
    return pool


def patterns() -> dict[str, Callable[[Finder, int], object]]:
    return {
        "tail": lambda _finder, _number: None,
        "often": lambda finder, number: finder.tidy() if number % 23 == 0 else None,
        "twice": lambda finder, number: finder.tidy() if number in {60, 200} else None,
    }


def come_and_go(finder: Finder, after: Callable[[Finder, int], object]) -> Finder:
    pool = a_pool()
    seq = 0
    for number, case, _ in pool:
        seq += 1
        add(finder, seq, case)
        for month, state in pool[number // 2][2] if number % 2 else []:
            seq += 1
            finder.follow_up(seq, make_id(case_number(pool[number // 2][1])), month, state)
        if number % 29 == 0:
            finder.remove(make_id(case_number(pool[number // 3][1])))
        after(finder, number)
    finder.reached(seq)
    return finder


def test_every_pattern_of_commits_gives_an_answer_of_the_same_bytes(
    tmp_path: Path, engine: Engine
) -> None:
    question = Question(machine=Machine(fuel="diesel"), complaint="dead, nothing at the outlet")
    understood = engine.understand(question)
    weights = engine.search_terms(understood)
    told = set()
    for name, after in patterns().items():
        finder = come_and_go(Finder(sliced_from=50), after)
        folder = Folder(tmp_path / name, "1")
        found = [finder.cases(weights)]
        folder.publish(finder.tidy(), "")
        loaded = folder.load()
        assert loaded is not None
        found += [finder.cases(weights), Finder.of(loaded.closed).cases(weights)]
        # As cases from anywhere else, their terms not numbered yet.
        found.append(Candidates.of(list(found[0])))
        for each in found:
            answer = engine.answer(question, understood, each, len(finder))
            told.add(answer.model_dump_json(by_alias=True))
    assert len(told) == 1
    assert '"similar":[]' not in told.pop()


def test_a_follow_up_that_comes_while_it_is_tidied_is_not_lost(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    finder = Finder(sliced_from=1)
    kept, gone = make_case(), make_case()
    add(finder, 1, kept)
    add(finder, 2, gone)
    for seq, case in ((3, kept), (4, gone)):
        finder.follow_up(seq, make_id(case_number(case)), "2026-04", "holding")
    merge = finder._merged

    def merge_while_others_write(*given: object, **named: object) -> object:
        finder.follow_up(5, make_id(case_number(kept)), "2026-06", "returned")
        finder.remove(make_id(case_number(gone)))
        return merge(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(finder, "_merged", merge_while_others_write)
    assert finder.tidy().later.shape == (4, 2), "what there was when it began"
    (case,) = held_by(finder)
    assert [seen.state for seen in case.followups] == ["holding", "returned"]
    monkeypatch.undo()
    high, low = divmod(make_id(case_number(kept)).int, 1 << 64)
    lows, highs, *_ = finder.tidy().later.tolist()
    assert (lows, highs) == ([low, low], [high, high]), "nothing of what was taken back"
    assert held_by(finder) == [case]


def test_a_line_that_was_read_already_changes_nothing() -> None:
    finder, case = Finder(), make_case()
    add(finder, 1, case)
    for _ in range(2):
        finder.follow_up(2, make_id(case_number(case)), "2026-04", "holding")
    assert len(held_by(finder)[0].followups) == 1


def test_values_made_once_are_shared() -> None:
    finder = Finder()
    for seq in (1, 2):
        add(finder, seq, make_case(kind={"fuel": "diesel", "phases": 3}))
    one, other = held_by(finder)
    assert one.kind is other.kind
    assert one.attempts[0] is other.attempts[0]


def test_what_is_compared_is_the_same_whether_a_case_was_made_or_not() -> None:
    finder = Finder(sliced_from=1)
    for seq, outcome in enumerate(("well", "repaired", "well"), 1):
        add(finder, seq, make_case(group=40 - seq, outcome=outcome))
    finder.tidy()
    found = finder.cases(ALL)
    numbered = Candidates.of(list(found))
    for held in (found, numbered):
        assert held.people.tolist() == [case.group for case in held]
        assert held.well.tolist() == [case.outcome == "well" for case in held]
        assert [held[place].id for place in held.rank.argsort()] == sorted(c.id for c in held)
    whole = [found[2], found[0]]
    assert found.without_terms([2, 0]) == [case._replace(terms=()) for case in whole]
    assert all(case.terms for case in whole)


def test_who_is_vouched_for_counts_fully_in_every_case_that_is_made() -> None:
    finder = Finder()
    for seq, group in enumerate((3, 4), 1):
        add(finder, seq, make_case(group=group, vouched=False))
    found = finder.cases(ALL).vouching_for({4})
    assert {case.group: case.vouched for case in found} == {3: False, 4: True}
    assert {case.group: case.vouched for case in found.without_terms([0, 1])} == {
        3: False,
        4: True,
    }


def test_nothing_found_gives_no_cases() -> None:
    empty = Finder()
    assert list(empty.cases(ALL)) == []
    names = Names()
    rows = empty.view().tail
    assert list(cases_of(rows, Later(NOTHING, {}), names, Values(names))) == []
