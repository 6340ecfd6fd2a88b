"""The catalogue as a client in the hand keeps it: small enough to fetch with poor signal.

What words mean, what is likeliest and what to do next is asked of the service. Kept on the
phone is what must work with no signal: codes in words, complaints found by their aliases, which
readings to offer, the bands that judge them, and what each check can show. What diagnosis alone
goes by (causes with their chances, voices, spelling) is left out, and so is whatever is empty.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.limits import Limit
from mendpool.core.catalogue.model import Caution, Check, SetKind

_ALIASES_OF_PARTS = 6
Body = dict[str, Any]


def handheld(catalogue: Catalogue) -> Body:
    """Return what a hand-held client keeps, ready for JSON. The same catalogue, the same bytes.

    Every ``only`` is a mapping of machine field to the codes (of phases: the numbers) that are
    let through, as in the catalogue: a set whose own value is not known is let through.

    Returns:
        ``version``: the catalogue's.
        ``machine``: by field, its codes with their labels; a code of ``phases`` is text.
        ``symptoms``: by code ``{label, group, aliases, only}``.
        ``components``: the same, six aliases at most.
        ``failures``, ``actions``, ``results``, ``outcomes``, ``states`` (of a follow-up),
        ``before``, ``points``, ``conditions``, ``topics`` (of cautions): labels by code.
        ``protections``: components whose removal is no repair.
        ``readings``: by quantity ``{label, unit, points, conditions, names, open_line}``;
        `unit` is the canonical one, `conditions` those that a band asks for, `names` (by point)
        stand for quantity and point together where the two side by side read badly, and with
        `open_line` a meter may show OL.
        ``offer``: readings to offer, the usual ones first, each ``{quantity, point, condition,
        says, only}``; of one place and condition there may be several, for different sets.
        ``limits``: in the order they are tried, as `Limit` has them, without empty parts.
        ``checks``: by code ``{label, how, expect, minutes, state, found, reading, tells, opens,
        needs, walkround, cautions, only}``; `found` gives what each result looks like.
        ``cautions``: the gravest first, each ``{topic, says, source, rank, always, symptoms,
        components, actions, checks, readings, only}``: what calls for it, words aside.
        ``openings``: by code, what comes off, in words.
    """
    vocabulary, words = catalogue.vocabulary, catalogue.reading_words
    points = dict.fromkeys(p for q in vocabulary.readings.values() for p in q.points)
    return {
        "version": catalogue.version,
        "machine": {field: dict(codes) for field, codes in vocabulary.machine.items()},
        "symptoms": {
            code: _whole(
                label=symptom.label,
                group=symptom.group,
                aliases=symptom.aliases,
                only=_only(symptom.only),
            )
            for code, symptom in catalogue.symptoms.items()
        },
        "components": {
            code: _whole(
                label=part.label,
                group=part.group,
                aliases=part.aliases[:_ALIASES_OF_PARTS],
                only=_only(part.only),
            )
            for code, part in catalogue.components.items()
        },
        "failures": dict(vocabulary.failure_modes),
        "actions": dict(vocabulary.actions),
        "results": dict(vocabulary.results),
        "outcomes": dict(vocabulary.outcomes),
        "states": dict(vocabulary.followups),
        "before": _said(vocabulary.before),
        "topics": dict(vocabulary.cautions),
        "protections": sorted(catalogue.sets.protections),
        "readings": _readings(catalogue),
        "points": {code: words.label(code) for code in points},
        "conditions": {code: words.label(code) for code in vocabulary.conditions},
        "offer": _offer(catalogue),
        "limits": [limit_without_blanks(limit) for limit in catalogue.limits],
        "checks": {code: _check(check) for code, check in catalogue.checks.items()},
        "cautions": [_caution(c) for c in sorted(catalogue.cautions, key=lambda c: c.rank)],
        "openings": {code: opening.says for code, opening in catalogue.openings.items()},
    }


def limit_without_blanks(limit: Limit) -> Body:
    """Return a band with only what it says; `basis`, `source`, `confidence` always stand."""
    body: Body = limit.model_dump(mode="json", exclude={"only", "surely", "unclassed"})
    kinds = {name: _only(getattr(limit, name)) for name in ("only", "surely", "unclassed")}
    if limit.basis != "per 12 volts of battery":
        del body["battery_split"]
    nested = {name: _whole(**body[name]) for name in ("dead", "swing", "danger") if body[name]}
    shades = [_whole(**shade) for shade in body["shades"]]
    return _whole(**{**body, **kinds, **nested, "shades": shades})


def _readings(catalogue: Catalogue) -> Body:
    words = catalogue.reading_words
    asked: dict[str, dict[str, None]] = {}
    for limit in catalogue.limits:
        asked.setdefault(limit.quantity, {}).update(dict.fromkeys(limit.conditions))
    return {
        code: _whole(
            label=words.label(code),
            unit=quantity.unit,
            points=quantity.points,
            open_line=code in words.open_line or None,
            conditions=[c for c in catalogue.vocabulary.conditions if c in asked.get(code, ())],
            names={
                point: words.labels[f"{code}@{point}"]
                for point in quantity.points
                if f"{code}@{point}" in words.labels
            },
        )
        for code, quantity in catalogue.vocabulary.readings.items()
    }


def _offer(catalogue: Catalogue) -> list[Body]:
    """The sheet's readings in their order, then those that a check asks for besides."""
    offered = [
        (good.quantity, good.point, good.condition, good.says, good.only)
        for good in catalogue.sheet.readings
    ]
    taken = {(quantity, point, condition) for quantity, point, condition, _, _ in offered}
    for check in catalogue.checks.values():
        at = check.reading
        if at is not None and (at.quantity, at.point, at.condition) not in taken:
            offered.append((at.quantity, at.point, at.condition, check.label, check.only))
    return [
        _whole(quantity=quantity, point=point, condition=condition, says=says, only=_only(only))
        for quantity, point, condition, says, only in offered
    ]


def _check(check: Check) -> Body:
    return _whole(
        label=check.label,
        how=check.how,
        expect=check.expect,
        minutes=check.minutes,
        state=check.state,
        found={code: found.says for code, found in check.found.items()},
        reading=None if check.reading is None else _whole(**dict(check.reading)),
        tells=check.tells,
        opens=check.opens,
        needs=check.needs,
        walkround=check.walkround or None,
        cautions=check.cautions,
        only=_only(check.only),
    )


def _caution(caution: Caution) -> Body:
    when = caution.when
    return _whole(
        topic=caution.topic,
        says=caution.says,
        source=caution.source,
        rank=caution.rank,
        always=when.always or None,
        symptoms=when.symptoms,
        components=when.components,
        actions=when.actions,
        checks=when.checks,
        readings=when.readings,
        only=_only(when.sets),
    )


def _only(kind: SetKind) -> Mapping[str, list[str | int]]:
    return {field: list(codes) for field, codes in kind.named}


def _said(codes: Iterable[str]) -> dict[str, str]:
    return {code: code.replace("-", " ") for code in codes}


def _whole(**parts: Any) -> Body:
    """Leave out what is empty; a nought or a False stands."""
    kept = {name: list(p) if isinstance(p, tuple) else p for name, p in parts.items()}
    return {
        name: part for name, part in kept.items() if part is not None and part not in ([], {})
    }
