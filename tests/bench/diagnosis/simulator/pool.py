"""Reports and questions drawn from a world, as the wire would carry them."""

from collections.abc import Iterator
from math import log
from random import Random
from typing import Any, NamedTuple

from mendpool.core.catalogue.codes import check_question
from mendpool.core.diagnosis.derive import derive
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.case import Case, Seen
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Attempt, Question, Report

from tests.bench.diagnosis.coop_cases import Asked
from tests.bench.diagnosis.simulator.looks import Looks
from tests.bench.diagnosis.simulator.machines import Machines, as_told
from tests.bench.diagnosis.simulator.people import Member, People, Try
from tests.bench.diagnosis.simulator.voice import Speaker, Tongue, voice
from tests.bench.diagnosis.simulator.world import Fault, World

_TICKS_A_SYMPTOM = 0.3
_TICKS_RIGHT = 0.92
_UNSOLVED_KEPT = 0.55  # what never got fixed is written up less often
_FOLLOWED = 0.35
_TRIED_SOMETHING = 0.25
_SAYS_SO = 0.5


class Drawn(NamedTuple):
    """A repair with its truth.

    Args:
        asked: the case (for pool members with `truth` as reported) and the question.
        machine: everything about the set.
        tags: what kind of question it is, to see which go wrong.
        work: everything done (of a question, what was done before it was asked).
        looked: checks made before the work, with what they showed.
    """

    asked: Asked
    machine: Machine
    fault: Fault
    key: str | None
    tags: frozenset[str]
    work: tuple[Try, ...]
    looked: tuple[tuple[str, str], ...]

    @property
    def kind(self) -> tuple[str | None, str | None]:
        """Fuel and excitation, which make a class of set."""
        return self.machine.fuel, self.machine.excitation


class Simulator:
    """Draws reports and questions from one world; the same seed gives the same ones."""

    def __init__(self, engine: Engine, seed: int, members: int = 150) -> None:
        self.engine = engine
        self.world = World(engine.knowledge, seed)
        self.machines = Machines(engine.catalogue, seed)
        self.looks = Looks(self.world)
        self.people = People(self.world, members, seed)
        self._seed = seed

    def reports(self, count: int) -> list[Drawn]:
        """Return the first so many reports of this world's pool: pools are nested."""
        drawn = self._reports()
        return [next(drawn) for _ in range(count)]

    def questions(self, count: int) -> list[Drawn]:
        """Return questions of people who are in no pool."""
        return [self._question(number) for number in range(count)]

    def tries(self, count: int) -> Iterator[tuple[Machine, Fault, list[Try]]]:
        """Yield repairs without their words, for what is true of fixes as they are tried."""
        for number in range(count):
            rng = Random(f"{self._seed} try {number}")
            machine = self.machines.draw(rng)
            fault = self.world.draw_fault(machine, rng)
            yield machine, fault, self.people.work(fault, machine, self.people.draw(rng), rng)

    def _reports(self) -> Iterator[Drawn]:
        number = 0
        while True:
            rng = Random(f"{self._seed} report {number}")
            number += 1
            member = self.people.draw(rng)
            machine = self.machines.draw(rng)
            fault = self.world.draw_fault(machine, rng)
            work = self.people.work(fault, machine, member, rng)
            solved = bool(work) and work[-1].result == "fixed"
            if solved or rng.random() < _UNSOLVED_KEPT:
                yield self._report(number, member, machine, fault, work, rng)

    def _report(
        self,
        number: int,
        member: Member,
        machine: Machine,
        fault: Fault,
        work: list[Try],
        rng: Random,
    ) -> Drawn:
        body, tags, looked = self._said(machine, fault, member.skill, None, rng, asks=False)
        solved = bool(work) and work[-1].result == "fixed"
        body["attempts"] = [
            Attempt(
                component=t.fix[0],
                action=t.fix[1],
                result=t.result,
                minutes=t.minutes,
                with_next=True if t.with_next else None,
            )
            for t in work
        ]
        cause = self._reported(fault, work, solved, rng)
        if cause:
            body["cause"] = dict(zip(("component", "failure"), cause.split("/"), strict=False))
        unsolved = rng.choice(("not-repaired", "sent-away", "open"))
        report = Report(
            **body,
            outcome="repaired" if solved else unsolved,
            happened=f"{rng.choice((2024, 2025, 2026))}-{rng.randint(1, 10):02d}",
        )
        name = f"{number:032x}"
        derived = derive(name, report, self.engine.plain_reader, self.engine.knowledge)
        case = derived.case._replace(
            group=member.group, followups=self._later(fault, work, solved, rng)
        )
        question = Question(**{k: v for k, v in body.items() if k not in ("attempts", "cause")})
        asked = Asked(
            case, question, cause if cause and "/" in cause else None, report.complaint or ""
        )
        return Drawn(asked, machine, fault, self._key(fault), tags, tuple(work), looked)

    def _question(self, number: int) -> Drawn:
        rng = Random(f"{self._seed} question {number}")
        machine = self.machines.draw(rng)
        fault = self.world.draw_fault(machine, rng)
        member = Member(0, rng.betavariate(2, 2), 3, rng.randrange(10**9))
        work = self.people.work(fault, machine, member, rng)
        failed = [t for t in work if t.result in ("no-change", "found-good")][:2]
        tried: list[Try] = failed if rng.random() < _TRIED_SOMETHING else []
        in_words = tried[0].fix[0] if tried and rng.random() < _SAYS_SO else None
        body, tags, looked = self._said(machine, fault, member.skill, in_words, rng, asks=True)
        body["tried"] = [
            Attempt(component=t.fix[0], action=t.fix[1], result=t.result)
            for t in tried
            if t.fix[0] != in_words
        ]
        question = Question(**body)
        check_question(question, self.engine.catalogue)
        case = _no_case(f"q{number:031x}")
        asked = Asked(case, question, self._key(fault), question.complaint or "")
        if tried:
            tags |= {"something tried"}
        return Drawn(asked, machine, fault, self._key(fault), tags, tuple(tried), looked)

    def _key(self, fault: Fault) -> str | None:
        keys = self.engine.knowledge.keys
        return None if fault.row == self.world.unlisted else keys[fault.row]

    def _said(
        self,
        machine: Machine,
        fault: Fault,
        skill: float,
        tried: str | None,
        rng: Random,
        *,
        asks: bool,
    ) -> tuple[dict[str, Any], frozenset[str], tuple[tuple[str, str], ...]]:
        told = as_told(machine, rng)
        readings, observations, looked = self.looks.draw(fault, machine, skill, rng)
        speaker = Speaker(machine, self._key(fault))
        voiced = voice(fault, speaker, Tongue(self._seed, asks), rng, tried)
        ticked: tuple[str, ...] = ()
        if rng.random() < _TICKS_A_SYMPTOM:
            right = rng.random() < _TICKS_RIGHT
            codes = self.engine.knowledge.symptoms
            ticked = (fault.symptom if right else codes[rng.randrange(len(codes))],)
        many = min(len(looked), 3)
        tags = {voiced.style, f"{many}{'+' if many == 3 else ''} looked at"}
        tags.add("given away" if voiced.told else "not given away")
        tags.add("excitation known" if told.excitation else "excitation not known")
        tags.add("symptom ticked" if ticked else "words alone")
        body: dict[str, Any] = {
            "machine": told,
            "complaint": voiced.text,
            "symptoms": ticked,
            "readings": tuple(readings),
            "observations": tuple(observations),
        }
        return body, frozenset(tags), looked

    def _reported(self, fault: Fault, work: list[Try], solved: bool, rng: Random) -> str | None:
        """The cause as it is written down: mostly right, now and then short or mistaken."""
        key = self._key(fault)
        if not solved:
            # A workshop told it afterwards, if anyone.
            return key if key and rng.random() < 0.25 else None
        luck = rng.random()
        assert key is not None
        if luck < 0.78:
            return key
        if luck < 0.90:
            return key.split("/")[0]
        if luck < 0.96:
            return None
        wrong = work[0].row if len(work) > 1 else work[-1].row
        return self.engine.knowledge.keys[wrong]

    def _later(
        self, fault: Fault, work: list[Try], solved: bool, rng: Random
    ) -> tuple[Seen, ...]:
        if not solved or rng.random() >= _FOLLOWED:
            return ()
        yearly = self.world.comes_back(fault.row, work[-1].fix)
        fails_at = rng.expovariate(-log(1 - yearly) / 12)
        seen: list[Seen] = []
        for months in rng.choice(((3,), (12,), (3, 12), (6, 18))):
            if fails_at <= months:
                seen.append(Seen(max(1, round(fails_at)), "returned"))
                break
            seen.append(Seen(months, "holding"))
        return tuple(seen)


def _no_case(name: str) -> Case:
    return Case(name, 0, True, {}, (), (), (), (), (), (), "open", False, ())
