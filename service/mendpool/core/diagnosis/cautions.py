"""Which warnings an answer or a report must carry."""

from dataclasses import dataclass

from mendpool.core.catalogue.admits import admits, surely
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.caution_calls import CautionCalls
from mendpool.core.catalogue.caution_texts import caution_shown
from mendpool.core.record.answer import CautionShown
from mendpool.core.record.machine import Machine


@dataclass(frozen=True, slots=True)
class OfSteps:
    """What the steps of a plan call for cautions with, beside the situation itself.

    Args:
        components, actions, checks: codes that the steps touch.
        topics: their own cautions.
    """

    components: frozenset[str] = frozenset()
    actions: frozenset[str] = frozenset()
    checks: frozenset[str] = frozenset()
    topics: frozenset[str] = frozenset()


NO_STEPS = OfSteps()


@dataclass(frozen=True, slots=True)
class Situation:
    """What calls for cautions.

    Args:
        machine: the set.
        symptoms, components, actions, checks: codes in play, whatever is done next.
        readings: ``quantity@point:verdict``.
        worded: places in the catalogue's cautions whose words the text uses.
        topics: topics called for outright (a dangerous reading, what must be made safe first).
        dangers: of these, what a reading showed: they come first.
        protection_defeated: one is bridged, found or left.
        whole: an answer to someone at work on a set, which carries those that hold always.
        steps: of a plan; what they alone call for is marked so.
    """

    machine: Machine
    symptoms: frozenset[str] = frozenset()
    components: frozenset[str] = frozenset()
    actions: frozenset[str] = frozenset()
    checks: frozenset[str] = frozenset()
    readings: frozenset[str] = frozenset()
    worded: frozenset[int] = frozenset()
    topics: frozenset[str] = frozenset()
    dangers: frozenset[str] = frozenset()
    protection_defeated: bool = False
    whole: bool = True
    steps: OfSteps = NO_STEPS


def cautions_for(catalogue: Catalogue, situation: Situation) -> tuple[CautionShown, ...]:
    """Return the cautions called for: what a reading showed first, then by rank.

    One text a topic, the one most to the point; topics in the vocabulary's order.
    """
    calls, topics = catalogue.caution_calls, situation.topics | situation.dangers
    steps = situation.steps
    at_once = _called_for(calls, situation)
    owned = at_once | _of_codes(calls, steps.components, steps.actions, steps.checks)
    at_once |= calls.by_codes("topic", topics)
    whole: set[str] = set()
    called: dict[str, tuple[bool, bool, int, int]] = {}
    for place in owned | at_once | calls.by_codes("topic", steps.topics):
        caution = catalogue.cautions[place]
        if not admits(caution.when.sets, situation.machine):
            continue
        if place in at_once:
            whole.add(caution.topic)
        best = called.get(caution.topic)
        # Of two texts the one that surely fits this set, then the graver.
        fits = surely(caution.when.sets, situation.machine)
        candidate = (place not in owned, not fits, caution.rank, place)
        if best is None or candidate < best:
            called[caution.topic] = candidate
    order = list(catalogue.vocabulary.cautions)
    ranked = sorted(
        called.items(),
        key=lambda item: (item[0] not in situation.dangers, item[1][2], order.index(item[0])),
    )
    return tuple(
        _marked(caution_shown(catalogue.cautions[place]), of_steps=topic not in whole)
        for topic, (*_, place) in ranked
    )


def _marked(caution: CautionShown, *, of_steps: bool) -> CautionShown:
    return caution.model_copy(update={"of_steps": True}) if of_steps else caution


def _of_codes(
    calls: CautionCalls,
    components: frozenset[str],
    actions: frozenset[str],
    checks: frozenset[str],
) -> set[int]:
    return (
        calls.by_codes("component", components)
        | calls.by_codes("action", actions)
        | calls.by_codes("check", checks)
    )


def _called_for(calls: CautionCalls, situation: Situation) -> set[int]:
    """The cautions that something of the situation itself calls for."""
    owned = (
        calls.by_codes("symptom", situation.symptoms)
        | _of_codes(calls, situation.components, situation.actions, situation.checks)
        | calls.by_readings(situation.readings)
        | situation.worded
    )
    if situation.whole:
        owned |= calls.always
    if situation.protection_defeated:
        owned |= calls.defeated
    return owned
