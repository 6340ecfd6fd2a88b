"""The invented co-op as cases and questions, for leaving some out and asking about them."""

from dataclasses import dataclass

from mendpool.coop.reports import InventedReport, invented_reports
from mendpool.core.diagnosis.derive import derive
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.case import Case, months_later
from mendpool.core.record.report import Question, Report


@dataclass(frozen=True, slots=True)
class Asked:
    """A report turned back into the question that its owner would have asked.

    Args:
        case: what the pool learned from it.
        question: machine, complaint, symptoms and readings as found; nothing tried yet.
        truth: ``component/failure`` as it turned out, None where it never did.
        words: the complaint, for baselines that take plain words.
    """

    case: Case
    question: Question
    truth: str | None
    words: str


def load(engine: Engine) -> list[Asked]:
    """Return every invented report both ways."""
    groups: dict[str, int] = {}
    return [_asked(report, engine, groups) for report in invented_reports()]


def _asked(invented: InventedReport, engine: Engine, groups: dict[str, int]) -> Asked:
    report = Report.model_validate(invented.body)
    group = groups.setdefault(invented.who, len(groups) + 1)
    derived = derive(str(invented.id), report, engine.plain_reader, engine.knowledge)
    followups = tuple(
        sorted(
            months_later(report.happened, f.body["happened"], f.body["state"])
            for f in invented.followups
        )
    )
    case = derived.case._replace(group=group, followups=followups)
    question = Question(
        machine=report.machine,
        complaint=report.complaint,
        symptoms=report.symptoms,
        readings=tuple(r for r in report.readings if r.stage != "left"),
        observations=report.observations,
        before=report.before,
    )
    truth = case.causes[0] if case.causes else None
    return Asked(case, question, truth, report.complaint or "")
