"""What is derived from a report when it comes in.

The case that diagnosis learns from, and what the service adds for people to read.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.cautions import Situation, cautions_for
from mendpool.core.diagnosis.engine import readings_for_cautions
from mendpool.core.diagnosis.facts import terms_of
from mendpool.core.diagnosis.healthy import healthy_of
from mendpool.core.diagnosis.knowledge import Knowledge
from mendpool.core.diagnosis.understand import Said, Understanding, understand_all
from mendpool.core.evidence.case import Case, Tried
from mendpool.core.evidence.getting_by import only_gets_by
from mendpool.core.record.answer import CautionShown
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Judged
from mendpool.core.record.report import Attempt, Report
from mendpool.core.text.clauses import NOTHING, Spoken
from mendpool.core.text.reader import Reader

DERIVED_VERSION = "4"
"""Raised when the way a case is derived changes, so that stored ones are made again."""


def derived_version(catalogue: Catalogue) -> str:
    """Return what a derived case depends on besides its report: this code and the words."""
    return f"{DERIVED_VERSION}-{catalogue.version}"


@dataclass(frozen=True, slots=True)
class Derived:
    """What a report comes to.

    Args:
        case: for the index; its contributor is filled in by whoever holds it.
        symptoms: as reported and as found in the complaint.
        readings: in canonical units with verdicts.
        cautions: those the report calls for wherever it is shown.
        components: parts tried or found at fault.
        advice: what in it could kill whoever copies it, as codes of `advice.yaml`.
    """

    case: Case
    symptoms: tuple[str, ...]
    readings: tuple[Judged, ...]
    cautions: tuple[CautionShown, ...]
    components: tuple[str, ...]
    advice: tuple[str, ...]


def derive(report_id: str, report: Report, reader: Reader, knowledge: Knowledge) -> Derived:
    """Return what a report comes to, a function of the report and the catalogue alone.

    Args:
        reader: one made without the pool's words, so that the case never depends on what
            else the pool held when the report came.

    Raises:
        RefusedInput: for readings that can't be understood.
    """
    said = Said(
        machine=report.machine,
        complaint=report.complaint,
        symptoms=report.symptoms,
        readings=report.readings,
        observations=report.observations,
        before=report.before,
    )
    understood = understand_all(said, reader, knowledge)
    causes = [report.cause] if report.cause else list(report.causes)
    components = tuple(
        dict.fromkeys([*(a.component for a in report.attempts), *(c.component for c in causes)])
    )
    note = reader.spoken(report.note, report.machine) if report.note else NOTHING
    advice = _advice(report, (understood.read.spoken, note), reader, knowledge.catalogue)
    worded = {*understood.read.cautions, *reader.cautions(note)}
    return Derived(
        case=_case(report_id, report, understood, knowledge)._replace(advice=advice),
        symptoms=tuple(understood.facts.symptoms),
        readings=tuple(j.judged for j in understood.judged[: understood.given]),
        cautions=_cautions(report, understood, components, advice, worded, knowledge),
        components=components,
        advice=advice,
    )


def _case(
    report_id: str, report: Report, understood: Understanding, knowledge: Knowledge
) -> Case:
    facts = understood.facts
    causes = [report.cause] if report.cause else list(report.causes)
    found_causes = [c for c in causes if c.failure != "none-found" and c.role != "knock-on"]
    return Case(
        id=report_id,
        group=0,
        vouched=True,
        kind=facts.kind,
        terms=terms_of(facts),
        symptoms=tuple(facts.symptoms),
        absent=facts.absent,
        found=tuple(
            f"{check}={result}" for check, result in sorted((facts.found or {}).items())
        ),
        causes=tuple(
            f"{c.component}/{c.failure}" if c.failure else c.component for c in found_causes
        ),
        attempts=tried_of(report.attempts),
        outcome=report.outcome,
        defeated=is_defeated(report),
        words=understood.read.new_words,
        happened=report.happened,
        healthy=healthy_of(report, understood, knowledge.catalogue),
    )


def tried_of(attempts: Sequence[Attempt]) -> tuple[Tried, ...]:
    """Return the attempts with how many were done together: credit is shared among them."""
    groups: list[list[Attempt]] = [[]]
    for attempt in attempts:
        groups[-1].append(attempt)
        if not attempt.with_next:
            groups.append([])
    told = []
    for group in groups:
        # What was done together has one result: that of the last, when it was run again.
        for attempt in group:
            result = group[-1].result if attempt.with_next else attempt.result
            told.append(
                Tried(
                    attempt.component,
                    attempt.action,
                    attempt.failure,
                    result,
                    len(group),
                    attempt.minutes,
                    attempt.cost,
                )
            )
    return tuple(told)


def is_defeated(report: Report) -> bool:
    """Tell whether the set was left with a protection defeated."""
    left = report.protection.left if report.protection else None
    return bool(report.protection_defeated) or left == "defeated"


def _advice(
    report: Report, texts: Sequence[Spoken], reader: Reader, catalogue: Catalogue
) -> tuple[str, ...]:
    """The dangerous advice a report holds, in any of its texts or in codes.

    Args:
        texts: the complaint and the note, which are cut already.
    """
    found = advice_in_texts(
        (t for a in report.attempts for t in (a.part, a.fits)), report.machine, reader
    )
    for text in texts:
        found |= reader.advice(text)
    protections = frozenset(catalogue.sets.protections)
    done = {a.action for a in report.attempts if a.component in protections}
    left = is_defeated(report)
    for advice in catalogue.advice:
        if done.intersection(advice.done.actions) or (left and advice.done.left_defeated):
            found |= {advice.code}
    return tuple(a.code for a in catalogue.advice if a.code in found)


def advice_in_texts(
    texts: Iterable[str | None], machine: Machine, reader: Reader
) -> frozenset[str]:
    """Return the codes of the dangerous advice that some texts hold."""
    found: frozenset[str] = frozenset()
    for text in texts:
        if text:
            found |= reader.advice(reader.spoken(text, machine))
    return found


def topics_of(advice: Iterable[str], catalogue: Catalogue) -> frozenset[str]:
    """Return the topics of the cautions that dangerous advice carries."""
    held = frozenset(advice)
    return frozenset(entry.topic for entry in catalogue.advice if entry.code in held)


def _cautions(
    report: Report,
    understood: Understanding,
    components: Sequence[str],
    advice: Sequence[str],
    worded: Iterable[int],
    knowledge: Knowledge,
) -> tuple[CautionShown, ...]:
    found_defeated = report.protection is not None and report.protection.found == "defeated"
    protections = knowledge.catalogue.sets.protections
    bypassed = any(only_gets_by(a.component, a.action, protections) for a in report.attempts)
    situation = Situation(
        machine=understood.facts.machine,
        symptoms=frozenset(understood.facts.symptoms),
        components=frozenset(components),
        actions=frozenset(a.action for a in report.attempts),
        readings=readings_for_cautions(understood),
        worded=frozenset(worded),
        topics=understood.topics,
        dangers=frozenset(understood.dangers) | topics_of(advice, knowledge.catalogue),
        protection_defeated=is_defeated(report) or found_defeated or bypassed,
    )
    return cautions_for(knowledge.catalogue, situation)
