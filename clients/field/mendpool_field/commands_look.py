"""`mendpool show`, `find`, `symptoms` and `codes`: what reads."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mendpool_field import console, options
from mendpool_field.errors import BadUsage, FieldError, NotMendpool, ServiceFailed, Unreachable
from mendpool_field.settings import Settings

if TYPE_CHECKING:
    from mendpool.core.catalogue.catalogue import Catalogue
    from mendpool_field.outbox import Entry

Symptom = Annotated[str | None, typer.Option("--symptom", metavar="CODE")]
Component = Annotated[str | None, typer.Option("--component", metavar="CODE")]
Outcome = Annotated[str | None, typer.Option("--outcome", metavar="CODE")]
Photos = Annotated[
    Path | None,
    typer.Option("--photos", metavar="FOLDER", help="Save its photographs there."),
]
Limit = Annotated[
    int, typer.Option("--limit", min=1, max=100, metavar="N", help="At most so many.")
]
Word = Annotated[str | None, typer.Argument(metavar="WORD", help="Only those with this word.")]
Kind = Annotated[str | None, typer.Argument(metavar="KIND", help="Bare: lists the kinds.")]


def show(
    report_id: Annotated[str, typer.Argument(metavar="REPORT_ID", help="Whole, or a piece.")],
    photos: Photos = None,
    offline: options.Offline = False,
    as_json: options.Json = False,
) -> None:
    """Show one report, with what was seen of it later.

    A piece of the id (its beginning or end) is enough for reports sent from here.
    """
    from mendpool_field.outbox import Outbox
    from mendpool_field.render_reports import report_text

    known = console.settings()
    outbox = Outbox(known.home)
    wanted = outbox.report_known_as(report_id)
    queued = [entry for entry in outbox.entries() if entry.id == wanted]
    if queued:
        console.talk(f"Not sent yet: it is {queued[0].state} here.")
        report = _as_kept(queued[0])
    else:
        sent = [entry for entry in outbox.sent() if entry.id == wanted]
        report = _fetched(known, wanted, sent, offline=offline)
    text = report_text(report, console.width(), title=wanted)
    console.show(report, _with_links(known, wanted, report, text), as_json=as_json)
    if photos is not None:
        _save_photos(known, wanted, report, photos)


def _with_links(known: Settings, wanted: str, report: Mapping[str, Any], text: str) -> str:
    if not report.get("photos"):
        return text
    from mendpool_field.photographs import links

    base = known.service.url if known.service is not None else ""
    return "\n".join([text, "", *links(wanted, report, base)])


def _save_photos(known: Settings, wanted: str, report: Mapping[str, Any], folder: Path) -> None:
    if not report.get("photos"):
        console.talk("This report has no photographs.")
        return
    from mendpool_field.photographs import fetched

    for path in fetched(console.open_gateway(known), wanted, report, folder):
        console.talk_as_is(f"Saved {path}")


def find(
    words: Annotated[list[str] | None, typer.Argument(metavar="WORDS")] = None,
    symptom: Symptom = None,
    component: Component = None,
    fuel: options.Fuel = None,
    excitation: options.Excitation = None,
    outcome: Outcome = None,
    limit: Limit = 10,
    offline: options.Offline = False,
    as_json: options.Json = False,
) -> None:
    """Find reports by words or by what they hold.

    With words the most alike come first, without words the newest.
    """
    from mendpool_field.layout import items
    from mendpool_field.render_reports import found_text

    given = {
        "q": " ".join(words or ()),
        "symptom": symptom,
        "component": component,
        "fuel": fuel,
        "excitation": excitation,
        "outcome": outcome,
        "limit": str(limit),
    }
    filters = {name: value for name, value in given.items() if value}
    page = _page(console.settings(), filters, offline=offline)
    text = found_text(items(page, "items"), console.width(), more=bool(page.get("next")))
    console.show(page, text, as_json=as_json)


def symptoms(word: Word = None, as_json: options.Json = False) -> None:
    """Look up the codes of symptoms."""
    codes("symptoms", word, as_json)


def codes(kind: Kind = None, word: Word = None, as_json: options.Json = False) -> None:
    """Look up codes and what they mean.

    Such as: mendpool codes components pump, or mendpool codes checks residual-volts
    """
    from mendpool_field.render_reports import codes_text

    known = console.settings()
    catalogue = console.catalogue(known)
    kinds = _kinds(catalogue)
    found: Mapping[str, str]
    if kind is None:
        found = {name: f"{len(entries)} codes" for name, entries in kinds.items()}
    else:
        found = _picked(kind.strip().lower(), word, kinds, catalogue)
    if not found:
        raise BadUsage(f"None of the {kind} has “{word}” in it.", f"mendpool codes {kind}")
    console.show(found, codes_text(found, console.width()), as_json=as_json)


def _as_kept(entry: "Entry") -> dict[str, Any]:
    import json

    return {"id": entry.id, **json.loads(entry.body)}


def _fetched(
    known: Settings, wanted: str, sent: Sequence["Entry"], *, offline: bool
) -> dict[str, Any]:
    """Fetch a report; from the copy, or as it was sent, where the pool can't be reached."""
    here = console.here(known)

    def kept() -> dict[str, Any] | None:
        found = here.shown(wanted)
        if found is not None or not sent:
            return found
        console.talk("This is it as it was sent from here.")
        return _as_kept(sent[0])

    if offline:
        report = kept()
        if report is None:
            raise BadUsage(
                f"No report {wanted} is kept here.", "mendpool sync fetches what is new."
            )
        return report
    if here.has_copy:
        from mendpool_field.asker import there_or_here

        return there_or_here(
            lambda: console.open_gateway(known).report(wanted),
            kept,
            lambda why: console.talk(f"{why} Shown {here.from_what}."),
        )
    try:
        return console.open_gateway(known).report(wanted)
    except (Unreachable, NotMendpool, ServiceFailed) as trouble:
        if not sent:
            raise
        _tell_stale(trouble)
        return _as_kept(sent[0])


def _page(known: Settings, filters: Mapping[str, str], *, offline: bool) -> dict[str, Any]:
    """Return a page of reports, from the pool or the copy."""
    here = console.here(known)
    if offline:
        found = here.found(filters)
        if found is None:
            raise BadUsage("There is no copy of a pool here.", "mendpool sync fetches one.")
        console.talk(f"Found {here.from_what}.")
        return found
    if not here.has_copy:
        return console.open_gateway(known).reports(filters)
    from mendpool_field.asker import there_or_here

    return there_or_here(
        lambda: console.open_gateway(known).reports(filters),
        lambda: here.found(filters),
        lambda why: console.talk(f"{why} Found {here.from_what}."),
    )


def _tell_stale(trouble: FieldError) -> None:
    from mendpool_field.explain import explain

    console.talk(f"{explain(trouble).says} This is it as it was sent from here.")


def _kinds(catalogue: "Catalogue") -> dict[str, Mapping[str, str]]:
    """Every kind of code: the vocabulary's, the nameplate's fields, and the checks."""
    v = catalogue.vocabulary
    plain: dict[str, Mapping[str, str]] = {
        "symptoms": v.symptoms,
        "components": v.components,
        "failures": v.failure_modes,
        "actions": v.actions,
        "results": v.results,
        "outcomes": v.outcomes,
        "followups": v.followups,
        "before": {code: code.replace("-", " ") for code in v.before},
        "checks": {code: check.label for code, check in catalogue.checks.items()},
        "readings": {
            code: f"in {quantity.unit}, at {', '.join(quantity.points)}"
            for code, quantity in v.readings.items()
        },
        "items": _items(catalogue),
    }
    return plain | {field: labels for field, labels in v.machine.items() if field != "phases"}


def _items(catalogue: "Catalogue") -> dict[str, str]:
    """What steps need, for ``--have``."""
    checks = {item for check in catalogue.checks.values() for item in check.needs}
    mends = {i for cause in catalogue.causes for remedy in cause.remedies for i in remedy.needs}
    return {item: item.replace("-", " ") for item in sorted(checks | mends)}


def _picked(
    kind: str, word: str | None, kinds: Mapping[str, Mapping[str, str]], catalogue: "Catalogue"
) -> Mapping[str, str]:
    if kind not in kinds:
        raise BadUsage(
            f"There are no codes of “{kind}”.", f"The kinds are: {', '.join(kinds)}."
        )
    entries = kinds[kind]
    if word is None:
        return entries
    wanted = word.strip().lower()
    if kind == "checks" and wanted in catalogue.checks:
        return {c: f.says for c, f in catalogue.checks[wanted].found.items()}
    return {c: label for c, label in entries.items() if _has(wanted, c, label, kind, catalogue)}


def _has(wanted: str, code: str, label: str, kind: str, catalogue: "Catalogue") -> bool:
    known = catalogue.symptoms if kind == "symptoms" else (
        catalogue.components if kind == "components" else {})  # fmt: skip
    entry = known.get(code)
    aliases = entry.aliases if entry is not None else ()
    return any(wanted in name.lower() for name in (code, label, *aliases))


COMMANDS: Sequence[Any] = (show, find, symptoms, codes)
