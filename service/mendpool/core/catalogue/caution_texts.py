"""A caution's text as it is shown, and the texts of topics called for outright."""

from collections.abc import Sequence

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import Caution
from mendpool.core.record.answer import CautionShown
from mendpool.core.record.machine import Machine

_NO_PLATE = Machine()


def cautions_of(
    catalogue: Catalogue,
    topics: Sequence[str],
    dangers: Sequence[str] = (),
    machine: Machine = _NO_PLATE,
) -> tuple[CautionShown, ...]:
    """Return one text for each topic, dangers first, then in the order given.

    For what has no question behind it, such as a calculation. Of a topic's texts the gravest
    that the set admits is taken; ``topic:code`` takes the gravest of those which that code
    calls for (``always`` for the one that is always shown).
    """
    shown = []
    for named in dict.fromkeys((*dangers, *topics)):
        topic, _, code = named.partition(":")
        texts = [
            caution
            for caution in catalogue.cautions
            if caution.topic == topic
            and admits(caution.when.sets, machine)
            and (not code or called_by(caution, code))
        ]
        shown.append(caution_shown(min(texts, key=lambda caution: caution.rank)))
    return tuple(shown)


def advice_shown(
    catalogue: Catalogue, advice: Sequence[str]
) -> dict[str, tuple[CautionShown, ...]]:
    """Return the cautions of dangerous advice as a field; nothing where there is none."""
    topics = [entry.topic for entry in catalogue.advice if entry.code in advice]
    return {"cautions": cautions_of(catalogue, topics)} if topics else {}


def called_by(caution: Caution, code: str) -> bool:
    """Whether a symptom, component, action, check, quantity, or ``always`` calls for it."""
    when = caution.when
    named = (*when.symptoms, *when.components, *when.actions, *when.checks)
    read = any(reading.startswith(f"{code}@") for reading in when.readings)
    return code in named or read or (when.always and code == "always")


def caution_shown(caution: Caution) -> CautionShown:
    """Return a caution with its source, which says how far it can be trusted."""
    source = caution.source
    if caution.confidence != "published" and caution.confidence not in source:
        source = f"{source} ({caution.confidence})"
    return CautionShown(code=caution.topic, says=caution.says, source=source)
