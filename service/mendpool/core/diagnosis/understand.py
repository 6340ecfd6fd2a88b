"""Understand what was said and measured: one way, for questions and for reports."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.diagnosis.knowledge import Knowledge
from mendpool.core.errors import Complaint, RefusedInput
from mendpool.core.readings.find import find_readings
from mendpool.core.readings.judge import JudgedReading, judge
from mendpool.core.readings.parse import understand
from mendpool.core.readings.refuse import placed
from mendpool.core.readings.together import Together, together
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Judged, Reading, ReadingGiven
from mendpool.core.record.report import Attempt, Observation
from mendpool.core.text.reader import Reader, Understood

SAID_OUTRIGHT = 1.0
_SHOWN = 0.9
_FOUND_MOST = 20
"""More readings than this in one complaint are a log, and logs have a door of their own."""


@dataclass(frozen=True, slots=True)
class Understanding:
    """What a question or a report comes to.

    Args:
        facts: in the catalogue's codes.
        read: what the complaint says.
        judged: the readings given, in order, then those found in the complaint.
        given: how many of `judged` were given outright.
        origin: for each symptom, ``said``, ``complaint`` or the reading that shows it.
        patterns: what the readings say together.
        dangers: caution topics that readings call for at once.
        topics: caution topics that the readings together call for.
    """

    facts: Facts
    read: Understood
    judged: tuple[JudgedReading, ...]
    given: int
    origin: Mapping[str, str]
    patterns: tuple[Together, ...]
    dangers: tuple[str, ...]
    topics: frozenset[str]


@dataclass(frozen=True, slots=True)
class Said:
    """What a question and a report have in common: the set, and all that is said of it."""

    machine: Machine
    complaint: str | None
    symptoms: Sequence[str] = ()
    readings: Sequence[ReadingGiven] = ()
    observations: Sequence[Observation] = ()
    tried: Sequence[Attempt] = ()
    before: Sequence[str] = ()
    at_hand: Sequence[str] = ()


def understand_all(said: Said, reader: Reader, knowledge: Knowledge) -> Understanding:
    """Return what was said, with readings judged and symptoms recognised.

    Raises:
        RefusedInput: for every reading that can't be understood, each with its place.
    """
    catalogue = knowledge.catalogue
    judged = judge_readings(said.readings, said.machine, catalogue)
    given = len(judged)
    read = Understood()
    if said.complaint:
        read = reader.read(said.complaint, said.machine)
        judged += _found_in_words(said.complaint, judged, said.machine, catalogue)
    machine = _settled(said.machine, said.observations, catalogue)
    patterns = together(judged, machine, catalogue.patterns) if len(judged) > 1 else []
    sure, origin = _symptoms(said.symptoms, read, judged, patterns)
    return Understanding(
        facts=Facts(
            machine=machine,
            symptoms=sure,
            absent=_absent(read, judged, patterns, sure),
            components=read.components,
            faults=read.faults,
            not_faults=read.not_faults,
            cleared=read.cleared,
            words=read.words,
            found=_found(said.observations, judged, machine, knowledge),
            tried=_tried(said.tried, read),
            before=tuple(dict.fromkeys((*said.before, *read.before))),
            at_hand=tuple(said.at_hand),
        ),
        read=read,
        judged=tuple(judged),
        given=given,
        origin=origin,
        patterns=tuple(patterns),
        dangers=tuple(
            dict.fromkeys(
                danger
                for danger in [*(j.danger for j in judged), *(p.danger for p in patterns)]
                if danger is not None
            )
        ),
        topics=frozenset(topic for pattern in patterns for topic in pattern.cautions),
    )


def _tried(given: Sequence[Attempt], read: Understood) -> tuple[Attempt, ...]:
    """What was given, then what the complaint tells of and was not given."""
    told = {(attempt.component, attempt.action) for attempt in given}
    return (
        *given,
        *(
            Attempt(component=a.component, action=a.action, result=a.result)
            for a in read.tried
            if (a.component, a.action) not in told
        ),
    )


def _found_in_words(
    complaint: str, given: Sequence[JudgedReading], machine: Machine, catalogue: Catalogue
) -> list[JudgedReading]:
    """Readings in the complaint itself, but for what was given outright."""
    told = {_place(j.judged) for j in given}
    found = find_readings(
        complaint, catalogue.vocabulary, machine, catalogue.reading_words, most=_FOUND_MOST
    )
    return [
        _judged(f.reading, machine, catalogue) for f in found if _place(f.reading) not in told
    ]


def judge_readings(
    readings: Sequence[ReadingGiven], machine: Machine, catalogue: Catalogue
) -> list[JudgedReading]:
    """Understand and judge each reading in order.

    Raises:
        RefusedInput: as `understood_readings`.
    """
    understood = understood_readings(readings, machine, catalogue)
    return [_judged(reading, machine, catalogue) for reading in understood]


def _judged(reading: Reading, machine: Machine, catalogue: Catalogue) -> JudgedReading:
    at = reading.quantity, reading.point
    return judge(reading, machine, catalogue.limits_at.get(at, ()))


def understood_readings(
    readings: Sequence[ReadingGiven],
    machine: Machine,
    catalogue: Catalogue,
    where: str = "/readings",
) -> list[Reading]:
    """Understand each reading in order.

    Raises:
        RefusedInput: with one complaint or more for each reading that can't be understood,
            at ``<where>/<place>...``.
    """
    understood: list[Reading] = []
    faults: list[Complaint] = []
    for place, reading in enumerate(readings):
        try:
            understood.append(
                understand(reading, catalogue.vocabulary, machine, catalogue.reading_words)
            )
        except RefusedInput as refused:
            faults += placed(refused, f"{where}/{place}")
    if faults:
        raise RefusedInput(faults)
    return understood


def _place(reading: Reading | Judged) -> tuple[str, str, bool]:
    """What a reading is of: one as left does not stand for the same one as found."""
    return reading.quantity, reading.point, reading.stage == "left"


def _settled(
    machine: Machine, observations: Sequence[Observation], catalogue: Catalogue
) -> Machine:
    """Fill in what a look has told of the set, where the plate says nothing."""
    for observation in observations:
        check = catalogue.checks.get(observation.check)
        if check is not None and check.tells and machine.kind(check.tells) is None:
            machine = machine.model_copy(update={check.tells: observation.found})
    return machine


def _symptoms(
    said: Sequence[str],
    read: Understood,
    judged: Sequence[JudgedReading],
    patterns: Sequence[Together],
) -> tuple[dict[str, float], dict[str, str]]:
    claims = [(code, SAID_OUTRIGHT, "said") for code in said]
    claims += [(code, sure, "complaint") for code, sure in read.symptoms.items()]
    for reading in judged:
        place = f"{reading.judged.quantity} {reading.judged.point}"
        claims += [(code, _SHOWN, place) for code in reading.shows]
    for pattern in patterns:
        claims += [(code, _SHOWN, pattern.code) for code in pattern.shows]
    sure: dict[str, float] = {}
    origin: dict[str, str] = {}
    # The first claim stands: what was said outright, then the words, then the meter.
    for code, confidence, source in claims:
        if code not in sure:
            sure[code], origin[code] = confidence, source
    return sure, origin


def _absent(
    read: Understood,
    judged: Sequence[JudgedReading],
    patterns: Sequence[Together],
    sure: Mapping[str, float],
) -> tuple[str, ...]:
    ruled_out = {c for j in judged for c in j.rules_out}
    ruled_out |= {c for pattern in patterns for c in pattern.rules_out}
    return tuple(sorted((set(read.absent) | ruled_out) - set(sure)))


def _found(
    observations: Sequence[Observation],
    judged: Sequence[JudgedReading],
    machine: Machine,
    knowledge: Knowledge,
) -> dict[str, str]:
    """What each check was answered with; an observation made outright comes first."""
    found = {o.check: o.found for o in observations}
    for reading in judged:
        j = reading.judged
        if j.stage == "left":
            continue
        for check in knowledge.checks_by_place.get((j.quantity, j.point), ()):
            wanted = check.reading.condition if check.reading is not None else None
            fits = wanted is None or j.condition is None or wanted == j.condition
            if fits and j.verdict in check.found and admits(check.only, machine):
                found.setdefault(check.code, j.verdict)
    return found
