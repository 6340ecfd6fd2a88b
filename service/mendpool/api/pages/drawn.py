"""Pages from templates: whatever goes in is escaped, whoever wrote it."""

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any

from fastapi import Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.responses import HTMLResponse

from mendpool._places import place_of
from mendpool.api.context import service_of
from mendpool.api.pages.asking import FIGURES, KINDS
from mendpool.api.pages.texts import Texts, wanted
from mendpool.core.catalogue.catalogue import Catalogue

UNITS = {"rated_kva": "kVA", "rated_volts": "V", "rated_hz": "Hz"}
_LANGUAGE = "language"
Pairs = list[tuple[str, str]]


@cache
def _templates() -> Environment:
    # Escaping must not hang on how a file is called.
    return Environment(
        loader=FileSystemLoader(place_of("phone") / "plain"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def texts_for(request: Request) -> Texts:
    """Return the texts in the language the request asks for."""
    asked = request.query_params.get(_LANGUAGE) or request.cookies.get(_LANGUAGE)
    known = service_of(request).place.catalogue.components
    parts = {part.label: code for code, part in known.items()}
    return Texts(wanted(asked, request.headers.get("accept-language", "")), parts)


def drawn(
    texts: Texts,
    name: str,
    status: int = 200,
    token: str = "",
    /,
    **given: Any,  # noqa: ANN401 - what the template shows
) -> HTMLResponse:
    """Return a page.

    Args:
        texts: of the language to speak.
        name: of the template, without its ending.
        status: of the answer.
        token: that a form must bring back.
        given: what the template shows.
    """
    template = _templates().get_template(f"{name}.j2")
    page = template.render(
        {
            "errors": (),
            **given,
            "t": texts.t,
            "said": texts.said,
            "language": texts.language,
            "token": token,
        }
    )
    answer = HTMLResponse(page, status)
    answer.headers["Content-Language"] = texts.language
    return answer


def plate_words(texts: Texts, catalogue: Catalogue) -> dict[str, Any]:
    """Return what the fields of the nameplate and the signs are called."""
    v = catalogue.vocabulary
    groups: dict[str, Pairs] = {}
    for code, label in v.symptoms.items():
        says = texts.code("symptoms", code, label)
        groups.setdefault(v.symptom_groups[code], []).append((code, says))
    return {
        "kinds": KINDS,
        "figures": [(name, UNITS[name]) for name in FIGURES],
        "options": {kind: pairs(texts, kind, v.machine[kind]) for kind in KINDS},
        "groups": [
            {"says": texts.code("symptom_groups", group, group), "signs": signs}
            for group, signs in groups.items()
        ],
    }


def pairs(texts: Texts, kind: str, labels: Mapping[str, str]) -> Pairs:
    """Return codes with what they are called."""
    return [(code, texts.code(kind, code, label)) for code, label in labels.items()]


def choices(texts: Texts, catalogue: Catalogue, kinds: Iterable[str]) -> dict[str, Pairs]:
    """Return the choices of a report's form, by the name the template knows them by."""
    v = catalogue.vocabulary
    labels: Mapping[str, tuple[str, Mapping[str, str]]] = {
        "parts": ("components", v.components),
        "actions": ("actions", v.actions),
        "results": ("results", v.results),
        "outcomes": ("outcomes", v.outcomes),
        "failures": ("failures", v.failure_modes),
        "states": ("states", v.followups),
    }
    return {name: pairs(texts, *labels[name]) for name in kinds}
