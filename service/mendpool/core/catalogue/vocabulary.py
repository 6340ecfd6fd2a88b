"""The codes of the wire format, as `vocabulary.yaml` lists them."""

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import BaseModel, ConfigDict
from rapidfuzz import process
from rapidfuzz.distance import OSA

_NEAR = 0.6


class Quantity(BaseModel):
    """A thing that is measured: its canonical unit and the points where it is taken."""

    model_config = ConfigDict(frozen=True, defer_build=True)

    unit: str
    points: tuple[str, ...]


class Vocabulary(BaseModel):
    """Every code with its label, by kind. Groups are kept for symptoms and components."""

    model_config = ConfigDict(frozen=True, defer_build=True)

    machine: Mapping[str, Mapping[str, str]]
    symptoms: Mapping[str, str]
    symptom_groups: Mapping[str, str]
    components: Mapping[str, str]
    component_groups: Mapping[str, str]
    failure_modes: Mapping[str, str]
    actions: Mapping[str, str]
    results: Mapping[str, str]
    outcomes: Mapping[str, str]
    followups: Mapping[str, str]
    readings: Mapping[str, Quantity]
    conditions: tuple[str, ...]
    stages: tuple[str, ...]
    before: tuple[str, ...]
    cautions: Mapping[str, str]


def vocabulary_from(raw: Mapping[str, Any]) -> Vocabulary:
    """Build the vocabulary from the parsed YAML of `vocabulary.yaml`."""
    symptoms, symptom_groups = _flattened(raw["symptoms"])
    components, component_groups = _flattened(raw["components"])
    return Vocabulary(
        machine={field: _labelled(codes) for field, codes in raw["machine"].items()},
        symptoms=symptoms,
        symptom_groups=symptom_groups,
        components=components,
        component_groups=component_groups,
        failure_modes=raw["failure_modes"],
        actions=raw["actions"],
        results=raw["results"],
        outcomes=raw["outcomes"],
        followups=raw["followups"],
        readings={
            code: Quantity(unit=str(entry["unit"]), points=tuple(entry["points"]))
            for code, entry in raw["readings"].items()
        },
        conditions=tuple(raw["reading_conditions"]),
        stages=tuple(raw["reading_stages"]),
        before=tuple(raw["before"]),
        cautions=raw["cautions"],
    )


def nearest_code(typed: str, codes: Iterable[str]) -> str | None:
    """Return the code a person most likely meant, or None if none is near.

    Near is an optimal string alignment similarity of at least 0.6, or one code holding the
    other whole (``batt`` and ``battery``).
    """
    choices = sorted(codes)
    wanted = typed.strip().lower().replace("_", "-").replace(" ", "-")
    if not wanted:
        return None
    near = process.extract(
        wanted, choices, scorer=OSA.normalized_similarity, score_cutoff=_NEAR, limit=1
    )
    if near:
        return near[0][0]
    held = [c for c in choices if len(wanted) >= 3 and (wanted in c or c in wanted)]
    return held[0] if held else None


def _labelled(codes: Any) -> Mapping[str, str]:
    if isinstance(codes, dict):
        return {str(code): str(label) for code, label in codes.items()}
    return {str(code): str(code).replace("-", " ") for code in codes}


def _flattened(
    groups: Mapping[str, Mapping[str, str]],
) -> tuple[dict[str, str], dict[str, str]]:
    labels: dict[str, str] = {}
    group_of: dict[str, str] = {}
    for group, entries in groups.items():
        for code, label in entries.items():
            labels[code] = label
            group_of[code] = group
    return labels, group_of
