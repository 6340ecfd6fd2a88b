"""What is known of a set in trouble, gathered from words, readings and looks."""

from collections.abc import Mapping
from dataclasses import dataclass

from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Attempt

KIND_FIELDS = (
    "fuel", "excitation", "cooling", "phases", "starting", "duty", "drive", "control",
    "governor",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything a question or a report says, in the catalogue's codes.

    Args:
        machine: the nameplate, with what looks have settled filled in.
        symptoms: code to confidence.
        absent: symptoms known not to be there.
        components: parts named in the complaint, but for those said to be good.
        faults: ``component/failure`` where the complaint names both together.
        not_faults: ``component/failure`` where the complaint denies the two together.
        cleared: parts that the complaint says are good.
        words: telling stems of the complaint.
        found: check code to result, from observations and judged readings.
        tried: attempts already made: those given, then those the complaint tells of.
        before: what happened just before.
        at_hand: tools and parts there; empty means nothing was said.
    """

    machine: Machine
    symptoms: Mapping[str, float]
    absent: tuple[str, ...] = ()
    components: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    not_faults: tuple[str, ...] = ()
    cleared: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    found: Mapping[str, str] | None = None
    tried: tuple[Attempt, ...] = ()
    before: tuple[str, ...] = ()
    at_hand: tuple[str, ...] = ()

    @property
    def kind(self) -> dict[str, str | int]:
        """The set's known codes by field."""
        known = ((field, self.machine.kind(field)) for field in KIND_FIELDS)
        return {field: value for field, value in known if value is not None}


def terms_of(facts: Facts) -> tuple[str, ...]:
    """Return the canonical terms a case is indexed and searched by.

    ``s:`` symptom, ``n:`` symptom denied, ``c:`` component named, ``r:`` check and result,
    ``k:`` kind of set, ``w:`` word.
    """
    terms = [f"s:{code}" for code in facts.symptoms]
    terms += [f"n:{code}" for code in facts.absent]
    terms += [f"c:{code}" for code in facts.components]
    terms += [f"r:{check}={result}" for check, result in sorted((facts.found or {}).items())]
    terms += [f"k:{field}={value}" for field, value in facts.kind.items()]
    terms += [f"w:{word}" for word in facts.words]
    return tuple(dict.fromkeys(terms))
