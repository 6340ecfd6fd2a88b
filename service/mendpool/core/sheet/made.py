"""What the fault sheet of a nameplate says: complaints, what to test first, good values.

It hangs inside the enclosure door and has to work when no phone does. The front is read, the
back is filled in by pencil and keyed in later by its letters.
"""

from typing import NamedTuple

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.caution_texts import called_by, cautions_of
from mendpool.core.catalogue.sheet import GoodValue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.readings.basis import leg
from mendpool.core.readings.judge import judge
from mendpool.core.readings.said import edge_text
from mendpool.core.record.answer import Step
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading
from mendpool.core.record.report import Question

_OFTEN, _WORTH_NAMING = 2, 0.05


class Complaint(NamedTuple):
    """A complaint with what to do first. `safe` comes before any step; `often` are causes."""

    letters: str
    code: str
    says: str
    safe: tuple[str, ...]
    steps: tuple[str, ...]
    often: tuple[str, ...]


class Good(NamedTuple):
    """A reading's good band; `note` is what would have made it narrower or is missing."""

    letter: str
    says: str
    band: str
    unit: str
    source: str


class Choice(NamedTuple):
    """A letter of the form and what it stands for."""

    letters: str
    code: str
    says: str


class Form(NamedTuple):
    """The lists of the pencilled form."""

    complaints: tuple[Choice, ...]
    parts: tuple[Choice, ...]
    actions: tuple[Choice, ...]
    results: tuple[Choice, ...]
    outcomes: tuple[Choice, ...]


class Sheet(NamedTuple):
    """The sheet of one set.

    Args:
        plate: the nameplate in words.
        cautions: read before anything.
        walk_round: the minute that comes before every complaint.
        complaints: the commonest on such a set, the commonest first.
        good: good values, in the order they are read.
        form: what the back lists.
        reports: how many reports stand behind the order of things; 0 for the catalogue alone.
        catalogue: its version.
    """

    plate: str
    cautions: tuple[str, ...]
    walk_round: str
    complaints: tuple[Complaint, ...]
    good: tuple[Good, ...]
    form: Form
    reports: int
    catalogue: str


def sheet_of(machine: Machine, engine: Engine) -> Sheet:
    """Return the sheet of a nameplate, by the catalogue and the fit the engine holds.

    Complaints stand in the order of how often they are what such sets are complained of
    (`share` in `symptoms.yaml`); their steps are the plan's own for that complaint alone.
    """
    catalogue = engine.catalogue
    plan = catalogue.sheet
    codes = _common(machine, catalogue)
    return Sheet(
        plate=plate_words(machine, catalogue),
        cautions=tuple(
            caution.says
            for caution in cautions_of(catalogue, _topics(machine, catalogue), (), machine)
        ),
        walk_round=" ".join(
            check.how
            for check in catalogue.checks.values()
            if check.walkround and admits(check.only, machine)
        ),
        complaints=tuple(
            _complaint(code, machine, engine) for code in codes[: plan.complaints]
        ),
        good=tuple(good_values(machine, catalogue)),
        form=_form(machine, catalogue, codes[: plan.choices]),
        reports=engine.fit.reports,
        catalogue=catalogue.version,
    )


def plate_words(machine: Machine, catalogue: Catalogue) -> str:
    """Return the nameplate as a line: makes, size, volts, hertz, kind."""
    figures = (
        (machine.rated_kva, "kVA"),
        (machine.rated_kw, "kW"),
        (machine.rated_volts, "V"),
        (machine.rated_hz, "Hz"),
        (machine.rated_rpm, "rpm"),
    )
    names = [name for name in (machine.make, machine.model) if name]
    known = [f"{edge_text(value)} {unit}" for value, unit in figures if value is not None]
    labels = catalogue.vocabulary.machine
    kinds = [
        labels[field].get(str(code), str(code))
        for field in ("fuel", "excitation", "cooling", "starting", "duty")
        if (code := machine.kind(field)) is not None and field in labels
    ]
    phases = [] if machine.phases is None else [f"{machine.phases}-phase"]
    return ", ".join([*names, *known, *phases, *kinds]) or "no figure of the plate is known"


def good_values(machine: Machine, catalogue: Catalogue) -> list[Good]:
    """Return the bands a sound set's readings lie in, by the limits that judge readings."""
    found = []
    for wanted in catalogue.sheet.readings:
        if not admits(wanted.only, machine):
            continue
        unit = catalogue.vocabulary.readings[wanted.quantity].unit
        reading = Reading(
            quantity=wanted.quantity,
            point=wanted.point,
            condition=wanted.condition,
            value=_sound(wanted, machine),
            unit=unit,
        )
        judged = judge(reading, machine, catalogue.limits).judged
        band = _band(judged.low, judged.high)
        if band:
            found.append(Good(wanted.letter, wanted.says, band, unit, judged.source))
    return found


def _topics(machine: Machine, catalogue: Catalogue) -> list[str]:
    """The topics of the sheet that have a text for such a set."""
    called = []
    for named in catalogue.sheet.cautions:
        topic, _, code = named.partition(":")
        if any(
            caution.topic == topic
            and (not code or called_by(caution, code))
            and admits(caution.when.sets, machine)
            for caution in catalogue.cautions
        ):
            called.append(named)
    return called


def _common(machine: Machine, catalogue: Catalogue) -> list[str]:
    fitting = [s for s in catalogue.symptoms.values() if admits(s.only, machine)]
    return [s.code for s in sorted(fitting, key=lambda s: (-s.share, s.code))]


def _complaint(code: str, machine: Machine, engine: Engine) -> Complaint:
    question = Question(machine=machine, symptoms=(code,))
    answer = engine.answer(question, engine.understand(question), (), 0)
    steps = [step for step in answer.plan if step.do in ("test", "fix")]
    # The walk-round stands once, above; what kind of set it is, is found out before a sheet
    # is printed, for the pictures that tell it have no room here.
    elsewhere = {c.code for c in engine.catalogue.checks.values() if c.walkround or c.tells}
    chosen = [step for step in steps if step.check not in elsewhere]
    return Complaint(
        letters=engine.catalogue.sheet.letters.symptoms[code],
        code=code,
        says=engine.catalogue.vocabulary.symptoms[code],
        safe=tuple(step.says for step in answer.plan if step.do == "safe"),
        steps=tuple(
            _step(step, engine.catalogue) for step in chosen[: engine.catalogue.sheet.steps]
        ),
        often=tuple(
            cause.says
            for cause in answer.causes
            if cause.component is not None and cause.probability >= _WORTH_NAMING
        )[:_OFTEN],
    )


def _step(step: Step, catalogue: Catalogue) -> str:
    minutes = "" if step.minutes is None else f" ({edge_text(step.minutes)} min)"
    if step.do == "test" and step.check is not None:
        check = catalogue.checks[step.check]
        return f"{check.label}{minutes}. Good: {check.expect[:1].lower()}{check.expect[1:]}"
    label = catalogue.vocabulary.components.get(step.component or "", "")
    return f"If it points there: {label}, {step.action}{minutes}."


def _sound(wanted: GoodValue, machine: Machine) -> float:
    """What a sound set of this plate reads, so that the band of that side is taken."""
    if wanted.of is None:
        return wanted.good
    plate = (
        leg(machine, wanted.good) if wanted.of == "leg_volts" else getattr(machine, wanted.of)
    )
    return wanted.good if plate is None else float(plate) * wanted.times


def _band(low: float | None, high: float | None) -> str:
    if low is not None and high is not None:
        return f"{edge_text(low)} to {edge_text(high)}"
    if low is not None:
        return f"{edge_text(low)} or more"
    return "" if high is None else f"{edge_text(high)} or less"


def _form(machine: Machine, catalogue: Catalogue, codes: list[str]) -> Form:
    letters, v = catalogue.sheet.letters, catalogue.vocabulary
    fitting = [c for c in catalogue.components.values() if admits(c.only, machine)]
    return Form(
        complaints=tuple(Choice(letters.symptoms[c], c, v.symptoms[c]) for c in codes),
        parts=tuple(
            sorted(Choice(letters.components[c.code], c.code, c.label) for c in fitting)
        ),
        actions=tuple(
            Choice(letter, code, code.replace("-", " "))
            for code, letter in letters.actions.items()
        ),
        results=tuple(
            Choice(digit, code, v.results[code]) for code, digit in letters.results.items()
        ),
        outcomes=tuple(
            Choice(letter, code, v.outcomes[code]) for code, letter in letters.outcomes.items()
        ),
    )
