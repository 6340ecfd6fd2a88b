"""What the page of an answer shows besides the answer itself."""

from collections.abc import Collection, Mapping
from typing import Any

from mendpool.api.pages.drawn import pairs
from mendpool.api.pages.texts import FIRST, Texts
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.record.answer import Answer, CauseShown, Step
from mendpool.core.record.machine import Machine
from mendpool.core.sheet.made import plate_words

_CAUSES, _FIXES = 6, 6
_LITTLE = 0.05
_NO_RESULT = frozenset({"found-bad"})
"""Of a repair one tells what came of it; what a test found has buttons of its own."""


def step_key(step: Step) -> str:
    """Return what tells a step from the others of a plan."""
    parts = (step.do, step.check, step.component, step.action)
    return "/".join(part for part in parts if part)


def answer_words(
    texts: Texts, catalogue: Catalogue, answer: Answer, skipped: Collection[str]
) -> dict[str, Any]:
    """Return the next step and the lists below it, in words."""
    v = catalogue.vocabulary
    left = [step for step in answer.plan if step.do != "safe"]
    step = next(
        (one for one in left if step_key(one) not in skipped), left[-1] if left else None
    )

    def name(component: str, action: str) -> str:
        part = texts.code("components", component, v.components[component])
        return texts.t(
            "step.fix", part=part, action=texts.code("actions", action, v.actions[action])
        )

    def heading(step: Step) -> str:
        if texts.language == FIRST:
            return step.says
        if step.check is not None:
            return texts.said(catalogue.checks[step.check].label)
        if step.do == "fix" and step.component and step.action:
            return name(step.component, step.action)
        return texts.said(step.says)

    def found(step: Step) -> list[tuple[str, str]]:
        """Each result's short word where it is told in this language, else its English."""
        short = catalogue.checks[step.check].found if step.check is not None else {}
        told = [(code, says, short[code].says) for code, says in step.results]
        return [
            (code, says if texts.said(word) == word else texts.said(word))
            for code, says, word in told
        ]

    return {
        "safe": [one for one in answer.plan if one.do == "safe"],
        "step": step,
        "heading": "" if step is None else heading(step),
        "found": [] if step is None else found(step),
        "step_key": "" if step is None else step_key(step),
        "later": [one for one in left if one is not step],
        "openings": {code: opening.says for code, opening in catalogue.openings.items()},
        "results": [
            (code, says)
            for code, says in pairs(texts, "results", v.results)
            if code not in _NO_RESULT
        ],
        "causes": [
            {"says": _cause(texts, catalogue, cause), "share": _share(texts, cause.probability)}
            for cause in answer.causes[:_CAUSES]
        ],
        "fixes": [
            {
                "name": name(fix.component, fix.action),
                "says": fix.says,
                "holding": fix.holding_12_months.says if fix.holding_12_months else "",
            }
            for fix in answer.fixes[:_FIXES]
        ],
        "get_bys": [{"name": name(g.component, g.action), "it": g} for g in answer.get_bys],
    }


def report_lines(
    texts: Texts, catalogue: Catalogue, body: Mapping[str, Any]
) -> list[tuple[str, str]]:
    """Return what besides complaint and note would be kept, each with what it is called."""
    v = catalogue.vocabulary
    machine, cause = body["machine"], body.get("cause", {})
    signs = [texts.code("symptoms", s, v.symptoms[s]) for s in body["symptoms"]]
    looks = [
        (texts.said(check.label), texts.said(check.found[look["found"]].says))
        for look in body.get("observations", ())
        if (check := catalogue.checks.get(look["check"])) is not None
    ]
    fault = [
        texts.code(kind, code, labels[code])
        for kind, code, labels in (
            ("components", cause.get("component"), v.components),
            ("failures", cause.get("failure"), v.failure_modes),
        )
        if code
    ]
    guarded = body.get("protection", {})
    left = guarded.get("left") or guarded.get("found")

    def attempt(told: Mapping[str, Any]) -> str:
        return ", ".join(
            texts.code(kind, told[name], labels[told[name]])
            for kind, name, labels in (
                ("components", "component", v.components),
                ("actions", "action", v.actions),
                ("results", "result", v.results),
            )
        )

    ended = body["outcome"]
    lines = [
        (texts.t("plain.plate"), plate_words(Machine.model_validate(machine), catalogue)),
        (texts.t("plate.hours"), str(machine.get("hours") or "")),
        (texts.t("plain.signs"), "; ".join(signs)),
        *((texts.t("plain.looked"), f"{label}: {says}") for label, says in looks),
        (texts.t("plain.outcome"), texts.code("outcomes", ended, v.outcomes[ended])),
        *(
            (texts.t("plain.tried", n=n), attempt(told))
            for n, told in enumerate(body.get("attempts", ()), 1)
        ),
        *((texts.t("answer.readings"), r.get("said", "")) for r in body["readings"]),
        (texts.t("plain.cause"), ", ".join(fault)),
        (texts.t("plain.protection"), texts.t(f"plain.left-{left}") if left else ""),
        (texts.t("plain.month"), body.get("happened") or ""),
        (texts.t("plain.region"), body.get("region") or ""),
    ]
    return [(name, says) for name, says in lines if says]


def removed_words(texts: Texts, removed: Mapping[str, int]) -> str:
    """Return what would be taken out in all: kinds with counts, never the words."""
    return ", ".join(f"{texts.t(f'gone.{kind}')} × {n}" for kind, n in removed.items())


def _cause(texts: Texts, catalogue: Catalogue, cause: CauseShown) -> str:
    v = catalogue.vocabulary
    if cause.component is None or cause.failure is None:
        return texts.said(cause.says)
    part = texts.code("components", cause.component, v.components[cause.component])
    failure = texts.code("failures", cause.failure, v.failure_modes[cause.failure])
    return f"{part}: {failure}"


def _share(texts: Texts, share: float) -> str:
    """A part of ten in words: never a bare percentage."""
    if share < _LITTLE:
        return texts.t("share.little")
    return texts.t("share.of-ten", n=round(share * 10))
