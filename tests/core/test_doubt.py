"""What leans on one member, or on members nobody vouched for, is said."""

import pytest

from mendpool.core.diagnosis.beliefs import PRIOR_CASES, voted
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.case import Case
from mendpool.core.record.answer import Answer

from tests.core.asking import asked, believed, facts_of
from tests.factories import make_attempt, make_case

DEAD = {
    "machine": {"fuel": "diesel", "excitation": "brushed-avr"},
    "complaint": "dead outlet",
    "symptoms": ["no-output"],
}


def repairs(
    count: int, cause: str, action: str, group: int | None, **more: object
) -> list[Case]:
    """So many repairs of a cause; by one member, or each by another."""
    return [
        make_case(
            terms=("s:no-output", "w:dead", "w:outlet", "k:fuel=diesel", f"w:{cause[:3]}{i}a",
                   f"w:b{i}", f"w:c{i}", f"w:d{i}"),
            causes=(cause,),
            attempts=(make_attempt(cause.split("/", maxsplit=1)[0], action=action),),
            group=100 + i if group is None else group,
            **more,
        )
        for i in range(count)
    ]  # fmt: skip


def codes(answer: Answer) -> set[str]:
    return {flag.code for flag in answer.flags}


def test_an_answer_that_rests_on_many_is_not_doubted(engine: Engine) -> None:
    answer = asked(engine, DEAD, repairs(12, "brushes/worn", "replace", None))
    assert not {code for code in codes(answer) if code.startswith("leans-on")}
    span = answer.evidence.first_fix_without_one
    assert span is not None
    low, high = span
    assert low <= answer.fixes[0].chance <= high
    assert high - low < 0.05


def test_a_first_fix_that_is_one_members_word_is_flagged(engine: Engine) -> None:
    """Regulator and brushes are close here, so that ten reports of one hand turn them round."""
    assert asked(engine, DEAD).fixes[0].component == "avr"
    answer = asked(engine, DEAD, repairs(10, "brushes/worn", "replace", 7))
    assert answer.fixes[0].component == "brushes"
    assert "leans-on-one-member" in codes(answer)
    said = next(f.says for f in answer.flags if f.code == "leans-on-one-member")
    assert "one member" in said


def test_a_flood_in_many_words_by_one_account_is_flagged_or_moves_nothing(
    engine: Engine,
) -> None:
    honest = repairs(6, "brushes/worn", "replace", None)
    before = asked(engine, DEAD, honest)
    flood = repairs(100, "slip-rings/worn", "replace", 9)
    after = asked(engine, DEAD, [*honest, *flood])
    same = (after.fixes[0].component, after.fixes[0].action) == (
        before.fixes[0].component,
        before.fixes[0].action,
    )
    assert same or "leans-on-one-member" in codes(after)


def test_what_only_new_members_say_is_flagged(engine: Engine) -> None:
    """Their reports weigh little: only where two fixes are close can they turn the order."""
    plain = asked(engine, DEAD)
    first, second = plain.fixes[:2]
    cause = next(c for c in plain.causes if c.component == second.component)
    new = repairs(300, f"{cause.component}/{cause.failure}", second.action, None, vouched=False)
    answer = asked(engine, DEAD, new)
    assert first.component != second.component
    assert answer.fixes[0].component == second.component
    assert "leans-on-new-members" in codes(answer)
    said = next(f.says for f in answer.flags if f.code == "leans-on-new-members")
    assert "nobody has vouched for" in said


def test_the_votes_of_all_members_are_all_the_votes(engine: Engine) -> None:
    cases = [(case, 0.8) for case in repairs(9, "avr/failed", "replace", None)]
    votes = believed(engine, facts_of(), cases).votes
    assert votes.by_member.sum(axis=0) == pytest.approx(votes.seen)
    assert votes.count == 9
    assert votes.unvouched.sum() == 0.0


def test_counting_no_case_changes_nothing_and_twelve_count_as_the_catalogue(
    engine: Engine,
) -> None:
    """Methods section 3: (12 x prior + counts) / (12 + n), over what is listed."""
    beliefs = believed(engine, facts_of())
    nothing = beliefs.unvoted * 0.0
    assert voted(beliefs.unvoted, nothing) == pytest.approx(beliefs.unvoted)
    row = engine.knowledge.row["avr/failed"]
    seen = nothing.copy()
    seen[row] = PRIOR_CASES
    listed = float(beliefs.unvoted[row]) / (1 - float(beliefs.unvoted[-1]))
    after = float(voted(beliefs.unvoted, seen)[row]) / (1 - float(beliefs.unvoted[-1]))
    assert after == pytest.approx((listed + 1) / 2)
