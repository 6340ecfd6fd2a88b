"""What floods of reports move: one account's hundred, ten fresh accounts, copies of a report.

Run: ``python -m tests.bench.diagnosis.flood --reports 1000 --questions 20``. Prints; judges
nothing. Each question that was answered rightly is flooded by itself with a hundred reports
saying that a wrong part was the cure; what is recommended before and after is compared.
"""

import argparse
from collections.abc import Callable, Iterator, Sequence
from random import Random
from typing import NamedTuple

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.case import Case, Tried
from mendpool.core.evidence.intervals import shrunk_mean, wilson
from mendpool.core.evidence.weights import weigh
from mendpool.core.record.answer import Answer
from mendpool.core.text.words import stem, words_of

from tests.bench.diagnosis.sides import Held
from tests.bench.diagnosis.simulator.pool import Drawn, Simulator
from tests.bench.diagnosis.simulator.voice import Speaker, Tongue, voice
from tests.bench.diagnosis.simulator.world import HELD_OUT, TUNING
from tests.factories import make_attempt, make_case

MANY = 100
_FRESH = 9_000_000
# The pool of section 12 of the methods: a fix that works for 27 in 100, tried nine times.
_HONEST_WORKED, _HONEST, _USUAL, _STRENGTH = 2, 9, 0.27, 4.0


class Moved(NamedTuple):
    """What one flood did to one question."""

    part_kept: bool
    step_kept: bool
    flagged: bool
    wrong_before: float
    wrong_after: float


Flood = Callable[[Held, Drawn, Answer, str], Iterator[Drawn]]


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the tables."""
    asked = _arguments(arguments)
    seed = HELD_OUT if asked.held_out else asked.seed
    simulator = Simulator(Engine(packaged_catalogue()), seed)
    reports = simulator.reports(asked.reports)
    held = Held(simulator.engine, reports)
    drawn = [q for q in simulator.questions(asked.questions * 4) if q.key is not None]
    right = [
        (q, a) for q in drawn if _part(a := held.answer(q.asked.question)) == _part_of(q.key)
    ][: asked.questions]
    print(f"{len(right)} questions answered rightly, {len(reports)} reports")
    print(
        "flood of 100 reports          part@1  first fix kept  kept or flagged  "
        "wrong part: chance before, after"
    )
    for name, flood in FLOODS.items():
        moved = [_moved(simulator, held, q, a, flood) for q, a in right]
        n = len(moved)
        print(
            f"{name:28} {sum(m.part_kept for m in moved) / n:7.2f} "
            f"{sum(m.step_kept for m in moved) / n:15.2f} "
            f"{sum(m.step_kept or m.flagged for m in moved) / n:16.2f} "
            f"{sum(m.wrong_before for m in moved) / n:17.3f} "
            f"{sum(m.wrong_after for m in moved) / n:9.3f}   "
            f"most {max(m.wrong_after for m in moved):.2f}"
        )
    print_rates()


def one_account(held: Held, drawn: Drawn, answer: Answer, wrong: str) -> Iterator[Drawn]:
    """A hundred reports of this complaint in other words, by one vouched member."""
    yield from _in_other_words(held, drawn, wrong, lambda _: (_FRESH, True))


def ten_fresh(held: Held, drawn: Drawn, answer: Answer, wrong: str) -> Iterator[Drawn]:
    """Ten reports each by ten accounts that nobody has vouched for."""
    yield from _in_other_words(held, drawn, wrong, lambda i: (_FRESH + i % 10, False))


def ten_vouched(held: Held, drawn: Drawn, answer: Answer, wrong: str) -> Iterator[Drawn]:
    """Ten reports each by ten vouched accounts: a conspiracy, for comparison."""
    yield from _in_other_words(held, drawn, wrong, lambda i: (_FRESH + i % 10, True))


def copies(held: Held, drawn: Drawn, answer: Answer, wrong: str) -> Iterator[Drawn]:
    """A hundred copies of the best right hit by as many accounts, with the wrong part."""
    best = next(
        (held.by_id[s.report] for s in answer.similar if held.by_id[s.report].key == drawn.key),
        held.by_id[answer.similar[0].report] if answer.similar else drawn,
    )
    for i in range(MANY):
        yield _wrong_one(held, best, best.asked.case, wrong, i, (_FRESH + i, True))


def copies_of_one(held: Held, drawn: Drawn, answer: Answer, wrong: str) -> Iterator[Drawn]:
    """The same copies, all by one member."""
    for one in copies(held, drawn, answer, wrong):
        case = one.asked.case._replace(group=_FRESH)
        yield one._replace(
            asked=type(one.asked)(case, one.asked.question, wrong, one.asked.words)
        )


FLOODS: dict[str, Flood] = {
    "one account's hundred": one_account,
    "ten fresh accounts": ten_fresh,
    "ten vouched accounts": ten_vouched,
    "copies by one account": copies_of_one,
    "copies by a hundred accounts": copies,
}


def print_rates() -> None:
    """Print how far fakes move a fix that truly works 2 times in 9 (methods, section 12)."""
    honest = [
        make_case(group=n + 1, attempts=(make_attempt(result=_won(n)),)) for n in range(_HONEST)
    ]
    print(
        f"\na fix of {_HONEST_WORKED} in {_HONEST}, mean {_USUAL}: rate and range after fakes"
    )
    for accounts, vouched in ((1, True), (4, True), (10, True), (10, False)):
        for fakes in (5, 20, 100):
            cases = honest + [
                make_case(group=1000 + i % accounts, vouched=vouched) for i in range(fakes)
            ]
            weights = weigh(cases, {case.id: 1.0 for case in cases})
            worth = sum(weights.values())
            worked = sum(weights[c.id] for c in cases if c.attempts[0].result == "fixed")
            low, high = wilson(worked, worth)
            rate = shrunk_mean(worked, worth, _USUAL, _STRENGTH)
            bare = (_HONEST_WORKED + fakes) / (_HONEST + fakes)
            who = f"{accounts} {'vouched' if vouched else 'fresh'}"
            span = f"{rate:.2f} ({low:.2f}-{high:.2f})"
            print(f"   {fakes:3d} from {who:11} {span}, uncapped {bare:.2f}")


def _won(number: int) -> str:
    return "fixed" if number < _HONEST_WORKED else "no-change"


def _moved(
    simulator: Simulator, held: Held, drawn: Drawn, before: Answer, flood: Flood
) -> Moved:
    wrong = _wrong_cause(held, drawn, before)
    flooded = Held(simulator.engine, [*held.pool, *flood(held, drawn, before, wrong)])
    after = flooded.answer(drawn.asked.question)
    return Moved(
        _part(after) == _part_of(drawn.key),
        _first_fix(after) == _first_fix(before),
        any(flag.code.startswith("leans-on") for flag in after.flags),
        _chance(before, wrong),
        _chance(after, wrong),
    )


def _wrong_cause(held: Held, drawn: Drawn, answer: Answer) -> str:
    """The likeliest cause of another part: the lie that is easiest to believe."""
    right = _part_of(drawn.key)
    for cause in answer.causes:
        if cause.component is not None and cause.component != right:
            return f"{cause.component}/{cause.failure}"
    return next(key for key in held.engine.knowledge.keys if _part_of(key) != right)


def _in_other_words(
    held: Held, drawn: Drawn, wrong: str, who: Callable[[int], tuple[int, bool]]
) -> Iterator[Drawn]:
    reader = held.engine.plain_reader
    for i in range(MANY):
        rng = Random(f"{drawn.asked.case.id} flood {i}")
        words = voice(drawn.fault, Speaker(drawn.machine, None), Tongue(0, asks=True), rng).text
        read = reader.read(words, drawn.machine)
        terms = [f"s:{code}" for code in (*read.symptoms, drawn.fault.symptom)]
        terms += [f"w:{stem(w.text)}" for w in words_of(words) if len(w.text) > 3]
        kind = {
            f: v for f in ("fuel", "excitation") if (v := drawn.machine.kind(f)) is not None
        }
        terms += [f"k:{field}={value}" for field, value in kind.items()]
        case = make_case(
            kind=kind,
            terms=tuple(dict.fromkeys(terms)),
            symptoms=tuple(dict.fromkeys((drawn.fault.symptom, *read.symptoms))),
        )
        yield _wrong_one(held, drawn, case, wrong, i, who(i))


def _wrong_one(
    held: Held, like: Drawn, case: Case, wrong: str, number: int, who: tuple[int, bool]
) -> Drawn:
    knowledge = held.engine.knowledge
    row = knowledge.row[wrong]
    action = max(knowledge.causes[row].remedies, key=lambda r: r.works).action
    lie = case._replace(
        id=f"{number:08x}{case.id.replace('-', '')[8:]}",
        group=who[0],
        vouched=who[1],
        causes=(wrong,),
        attempts=(Tried(_part_of(wrong), action, None, "fixed", 1, 20.0, None),),
        outcome="repaired",
    )
    asked = type(like.asked)(lie, like.asked.question, wrong, like.asked.words)
    return like._replace(asked=asked, key=wrong)


def _part(answer: Answer) -> str | None:
    return next((c.component for c in answer.causes if c.component), None)


def _part_of(key: str | None) -> str:
    return (key or "").split("/", 1)[0]


def _first_fix(answer: Answer) -> tuple[str | None, str | None]:
    return next(((s.component, s.action) for s in answer.plan if s.do == "fix"), (None, None))


def _chance(answer: Answer, cause: str) -> float:
    part = _part_of(cause)
    return sum(c.probability for c in answer.causes if c.component == part)


def _arguments(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reports", type=int, default=1000)
    parser.add_argument("--questions", type=int, default=20)
    parser.add_argument("--seed", type=int, default=TUNING)
    parser.add_argument("--held-out", action="store_true", help="the seed nobody tunes on")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    main()
