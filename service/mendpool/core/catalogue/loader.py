"""From the texts of the YAML files to one checked catalogue.

The texts are handed in (`files` reads them), keyed by their path under `data/`:

- `vocabulary.yaml` the codes; `symptoms.yaml`, `components/*.yaml`, `causes/*.yaml`,
  `voices/*.yaml`, `checks/*.yaml`, `cautions.yaml`, `limits.yaml`, `patterns.yaml`,
  `reading-words.yaml`, `words.yaml`, `sets.yaml`, `tables.yaml`, `workings.yaml`,
  `proving.yaml`, `openings.yaml`, `planning.yaml`, `get-bys.yaml`, `sheet.yaml`,
  `advice.yaml`, `possible.yaml`, `name-nobody.yaml`, `scrub-words.yaml`.

Every file but the vocabulary is a mapping from code to entry, or (causes, cautions) a list.
"""

from collections.abc import Iterator, Mapping
from typing import Any, TypeVar

import yaml
from pydantic import BaseModel, ValidationError

from mendpool.core.catalogue.advice import Advice
from mendpool.core.catalogue.advice_rules import broken_advice_rules
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.gates import Gate
from mendpool.core.catalogue.limits import Limit
from mendpool.core.catalogue.model import Cause, Caution, Check, Component, Symptom
from mendpool.core.catalogue.name_rules import broken_name_rules
from mendpool.core.catalogue.patterns import Pattern
from mendpool.core.catalogue.planning import GetByWords, Opening, Planning
from mendpool.core.catalogue.planning_rules import broken_planning_rules
from mendpool.core.catalogue.possible import Possible
from mendpool.core.catalogue.proving import ProvingStep
from mendpool.core.catalogue.reading_rules import broken_reading_rules
from mendpool.core.catalogue.reading_words import ReadingWords
from mendpool.core.catalogue.rules import broken_rules
from mendpool.core.catalogue.scrub_words import ScrubWords
from mendpool.core.catalogue.sets import SetWords
from mendpool.core.catalogue.sheet import SheetPlan
from mendpool.core.catalogue.sheet_rules import broken_sheet_rules
from mendpool.core.catalogue.table_rules import broken_table_rules
from mendpool.core.catalogue.tables import Tables
from mendpool.core.catalogue.vocabulary import Vocabulary, vocabulary_from
from mendpool.core.catalogue.voice_rules import broken_voice_rules
from mendpool.core.catalogue.words import Words
from mendpool.core.catalogue.working_texts import WorkingText
from mendpool.core.errors import CatalogueError

E = TypeVar("E", bound=BaseModel)
_MERGED = "tag:yaml.org,2002:merge"
_FastLoader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class _Loader(_FastLoader):  # type: ignore[misc] # one of two classes, chosen above
    """A safe loader that refuses a key written twice: of two entries one would be lost."""

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> Any:  # noqa: FBT001, FBT002 - as yaml's own
        written = [key for key, _ in node.value if key.tag != _MERGED]
        mapping = super().construct_mapping(node, deep)
        if len(mapping) < len(written):
            names = [str(key.value) for key in written]
            twice = next((name for name in names if names.count(name) > 1), "a key")
            raise yaml.constructor.ConstructorError(
                None, None, f"{twice}: written twice", node.start_mark
            )
        return mapping


def load_catalogue(texts: Mapping[str, str]) -> Catalogue:
    """Read, type and check the whole catalogue.

    Args:
        texts: YAML text by path under `data/`.

    Raises:
        CatalogueError: with a line for every fault, each naming file and entry.
    """
    parsed = {
        path: _parsed(path, text)
        for path, text in sorted(texts.items())
        if path.endswith(".yaml")
    }
    vocabulary = _vocabulary(parsed.get("vocabulary.yaml"))
    faults: list[str] = []
    catalogue = Catalogue(
        vocabulary=vocabulary,
        symptoms=_by_code(Symptom, parsed, "symptoms.yaml", faults, vocabulary),
        components=_by_code(Component, parsed, "components/", faults, vocabulary),
        causes=_listed(Cause, parsed, "causes/", faults),
        voices=_phrases(parsed, "voices/", faults),
        checks=_by_code(Check, parsed, "checks/", faults, vocabulary),
        limits=_listed(Limit, parsed, "limits.yaml", faults),
        patterns=_listed(Pattern, parsed, "patterns.yaml", faults),
        reading_words=_one(ReadingWords, parsed, "reading-words.yaml", faults),
        cautions=_listed(Caution, parsed, "cautions.yaml", faults),
        gates=_listed(Gate, parsed, "gates.yaml", faults),
        advice=_listed(Advice, parsed, "advice.yaml", faults),
        possible=_by_name(Possible, parsed, "possible.yaml", faults),
        words=_one(Words, parsed, "words.yaml", faults),
        sets=_one(SetWords, parsed, "sets.yaml", faults),
        tables=_one(Tables, parsed, "tables.yaml", faults),
        workings=_by_name(WorkingText, parsed, "workings.yaml", faults),
        proving=_listed(ProvingStep, parsed, "proving.yaml", faults),
        openings=_by_name(Opening, parsed, "openings.yaml", faults),
        planning=_one(Planning, parsed, "planning.yaml", faults),
        get_bys=_listed(GetByWords, parsed, "get-bys.yaml", faults),
        sheet=_one(SheetPlan, parsed, "sheet.yaml", faults),
        scrub_words=_one(ScrubWords, parsed, "scrub-words.yaml", faults),
        name_nobody=_phrases(parsed, "name-nobody.yaml", faults),
        ordinary=_listed_words(texts.get("ordinary-words.txt", "")),
    )
    if not faults:
        broken = [
            *broken_rules(catalogue),
            *broken_reading_rules(catalogue),
            *broken_table_rules(catalogue),
            *broken_voice_rules(catalogue),
            *broken_planning_rules(catalogue),
            *broken_sheet_rules(catalogue),
            *broken_advice_rules(catalogue),
            *broken_name_rules(catalogue),
        ]
        faults.extend(_in_its_file(line, parsed) for line in broken)
    if faults:
        raise CatalogueError(faults)
    return catalogue


def _listed_words(text: str) -> tuple[str, ...]:
    """One word a line; lines that begin with # are remarks."""
    return tuple(line for line in text.splitlines() if line and not line.startswith("#"))


def _parsed(path: str, text: str) -> Any:
    try:
        return yaml.load(text, Loader=_Loader)  # noqa: S506 - a safe loader, in C where it exists
    except yaml.constructor.ConstructorError as error:
        raise CatalogueError([f"{path}: {error.problem}"]) from error
    except yaml.YAMLError as error:
        raise CatalogueError([f"{path}: not YAML: {error}"]) from error


def _vocabulary(raw: Any) -> Vocabulary:
    try:
        return vocabulary_from(raw)
    except (AttributeError, KeyError, TypeError, ValidationError) as error:
        raise CatalogueError([f"vocabulary.yaml: not whole: {error!r}"]) from error


def _files(
    parsed: Mapping[str, Any], where: str, shape: type, faults: list[str]
) -> Iterator[tuple[str, Any]]:
    for path, content in parsed.items():
        if path == where or (where.endswith("/") and path.startswith(where)):
            if isinstance(content, shape):
                yield path, content
            elif content is not None:
                wanted = "a list of entries" if shape is list else "entries by their code"
                faults.append(f"{path}: must hold {wanted}")


def _in_its_file(line: str, parsed: Mapping[str, Any]) -> str:
    """Name the file where a rule names the folder; the last one that has the entry."""
    folder, _, rest = line.partition(": ")
    entry = rest.partition(": ")[0]
    for path in sorted(parsed, reverse=True):
        if folder.endswith("/") and path.startswith(folder):
            content = parsed[path] or ()
            by_code = isinstance(content, dict)
            if entry in (content if by_code else {_name(body, 0) for body in content}):
                return f"{path}: {rest}"
    return line


def _by_code(
    kind: type[E],
    parsed: Mapping[str, Any],
    where: str,
    faults: list[str],
    vocabulary: Vocabulary,
) -> dict[str, E]:
    entries: dict[str, E] = {}
    for path, content in _files(parsed, where, dict, faults):
        for code, body in content.items():
            if code in entries:
                faults.append(f"{path}: {code}: written twice")
            known = body or {}
            if isinstance(known, dict):
                known = {**_given(kind, code, vocabulary), **known}
            entry = _entry(kind, known, f"{path}: {code}", faults)
            if entry is not None:
                entries[code] = entry
    return entries


def _by_name(
    kind: type[E], parsed: Mapping[str, Any], where: str, faults: list[str]
) -> dict[str, E]:
    entries: dict[str, E] = {}
    for path, content in _files(parsed, where, dict, faults):
        for name, body in content.items():
            entry = _entry(kind, body or {}, f"{path}: {name}", faults)
            if entry is not None:
                entries[name] = entry
    return entries


def _given(kind: type[BaseModel], code: str, vocabulary: Vocabulary) -> dict[str, str]:
    """What the vocabulary already says of a code, so that it is written once."""
    given = {"code": code}
    if kind is Symptom:
        given["label"] = vocabulary.symptoms.get(code, code)
        given["group"] = vocabulary.symptom_groups.get(code, code)
    if kind is Component:
        given["label"] = vocabulary.components.get(code, code)
        given["group"] = vocabulary.component_groups.get(code, code)
    return given


def _listed(
    kind: type[E], parsed: Mapping[str, Any], where: str, faults: list[str]
) -> tuple[E, ...]:
    entries = []
    for path, content in _files(parsed, where, list, faults):
        for position, body in enumerate(content):
            entry = _entry(kind, body, f"{path}: {_name(body, position)}", faults)
            if entry is not None:
                entries.append(entry)
    return tuple(entries)


def _phrases(
    parsed: Mapping[str, Any], where: str, faults: list[str]
) -> dict[str, tuple[str, ...]]:
    """Lists of phrases by the key they stand under."""
    found: dict[str, tuple[str, ...]] = {}
    for path, content in _files(parsed, where, dict, faults):
        for key, said in content.items():
            if not isinstance(said, list) or not all(isinstance(p, str) for p in said):
                faults.append(f"{path}: {key}: must hold a list of phrases")
            elif key in found:
                faults.append(f"{path}: {key}: written twice")
            else:
                found[key] = tuple(said)
    return found


def _one(kind: type[E], parsed: Mapping[str, Any], where: str, faults: list[str]) -> E:
    entry = _entry(kind, parsed.get(where) or {}, where, faults)
    if entry is None:
        raise CatalogueError(faults)
    return entry


def _entry(kind: type[E], body: Any, name: str, faults: list[str]) -> E | None:
    try:
        return kind.model_validate(body)
    except ValidationError as error:
        for fault in error.errors(include_url=False, include_input=False):
            place = ".".join(str(part) for part in fault["loc"])
            faults.append(f"{name}: {place}: {fault['msg']}")
        return None


def _name(body: Any, position: int) -> str:
    if not isinstance(body, dict):
        return f"entry {position + 1}"
    naming = ("code", "component", "failure", "topic", "quantity", "point", "points")
    parts = [str(body[key]) for key in naming if key in body]
    return "/".join(parts) or f"entry {position + 1}"
