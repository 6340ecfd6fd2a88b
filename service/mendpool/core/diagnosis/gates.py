"""Safety before speed: what must be made safe before the plan begins."""

from collections.abc import Iterable

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.gates import Gate
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.record.answer import Step

SURE = 0.45
"""A symptom understood less surely than this calls for no gate; a false one costs little."""


def gates_for(catalogue: Catalogue, facts: Facts, dangers: Iterable[str]) -> tuple[Gate, ...]:
    """Return the gates a question calls for, in the catalogue's order."""
    sure = {code for code, confidence in facts.symptoms.items() if confidence >= SURE}
    shown = set(dangers)
    return tuple(
        gate
        for gate in catalogue.gates
        if (sure & set(gate.symptoms) or shown & set(gate.dangers))
        and admits(gate.only, facts.machine)
    )


def gate_step(gate: Gate) -> Step:
    """Return a gate as a step of the plan."""
    source = gate.source
    if gate.confidence != "published" and gate.confidence not in source:
        source = f"{source} ({gate.confidence})"
    return Step(do="safe", how=gate.how, cautions=gate.cautions, says=gate.says, source=source)
