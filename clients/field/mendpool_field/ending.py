"""The end of a session: the few things that only the person can say, and the proving run."""

from collections.abc import Generator, Mapping, Sequence
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.evidence.getting_by import (
    GOT_BY,
    REPAIRED,
    is_left_defeated,
    only_gets_by,
    proposed_outcome,
    protections_out,
    told_outcome,
)
from mendpool.core.record.machine import Machine
from mendpool_field.proving import proving_run
from mendpool_field.put_back import back_again, left_as
from mendpool_field.questions import Asking, Step, ask_component, ask_one, ask_text, ask_yes
from mendpool_field.session_bodies import attempts_of
from mendpool_field.sessions import Event, Session

Ended = dict[str, Any]
_OTHER, _NOT_SEEN = "other", "One key; Enter if you did not see"
_NO_END = frozenset({"well"})
_PROTECTION = {
    "intact": "no, all was and is in place",
    "restored": "it was when I found it; back in place and proved",
    "untested": "it was when I found it; back in place, not proved",
    "defeated": "one is out of action now",
}
_RUNS_FOR_NOW = "With a protection out of action it runs for now; that is no repair."
_NOT_PROVED = "It did not pass the proving run."
_LEFT = {"restored": "proved", "untested": "untested", "defeated": "defeated"}


def ending(
    session: Session, machine: Machine, catalogue: Catalogue
) -> Generator[Step, str, Ended]:
    """Ask what is left to know for the report.

    Returns:
        Fields of a report; `readings` are those of the proving run, as left. Where that was
        not passed, the outcome was asked for again.
    """
    protections = catalogue.sets.protections
    tried = session.of("tried")
    fixed = [e for e in tried if e["attempt"]["result"] == "fixed"]
    so_far: Ended = {"attempts": attempts_of(session)}
    ended: Ended = yield from _put_back(session, so_far["attempts"], catalogue)
    so_far |= ended
    # Nothing done to a set that is left without a protection has been proved a repair.
    defeated = is_left_defeated(so_far, protections)
    cured = [e for e in fixed if not defeated and not _gets_by(e, catalogue)]
    if cured:
        ended |= yield from _causes(cured[-1], tried, catalogue)
    proposed = proposed_outcome(so_far, protections)
    if proposed == REPAIRED and tried and tried[-1].get("get_by"):
        proposed = GOT_BY
    outcome = yield from _outcome(proposed, catalogue)
    if not cured:
        ended |= yield from _cause_named(catalogue)
    if "protection" not in ended and not defeated:
        ended |= yield from _protection()
    so_far |= ended
    if is_left_defeated(so_far, protections) and outcome == REPAIRED:
        outcome = yield from _outcome(GOT_BY, catalogue, _RUNS_FOR_NOW, but=REPAIRED)
    outcome = told_outcome(outcome, so_far, protections)
    ended["outcome"] = outcome
    if outcome == REPAIRED:
        ended |= yield from _proved(machine, catalogue, ended)
        if ended.pop("failed", False):
            ended["outcome"] = yield from _outcome("not-repaired", catalogue, _NOT_PROVED)
    note = yield from ask_text("Anything else worth knowing? No names or numbers of people.")
    return ended | ({"note": note} if note else {})


def _gets_by(event: Event, catalogue: Catalogue) -> bool:
    attempt, protections = event["attempt"], catalogue.sets.protections
    told = only_gets_by(attempt["component"], attempt["action"], protections)
    return told or bool(event.get("get_by"))


def _causes(cured: Event, tried: Sequence[Event], catalogue: Catalogue) -> Asking:
    """Propose the cause from what fixed it; what made it better may be a second one."""
    fixed = cured["attempt"]["component"]
    root = yield from _cause_of(fixed, cured.get("likely", ()), catalogue)
    better = {
        e["attempt"]["component"]: e
        for e in tried
        if e["attempt"]["result"] == "improved" and e["attempt"]["component"] != fixed
    }
    others = []
    for component, event in better.items():
        label = catalogue.vocabulary.components[component]
        yes = yield from ask_yes(
            f"The {label} made it better. Was that a fault of its own as well?",
            "yes, a second fault",
            "no",
            "One key; Enter if you can't say",
        )
        if yes:
            cause = yield from _cause_of(component, event.get("likely", ()), catalogue)
            others.append({**(cause or {"component": component}), "role": "separate"})
    if root and others:
        return {"causes": [{**root, "role": "root"}, *others]}
    return {"cause": root} if root else {}


def _cause_of(component: str, likely: Sequence[str], catalogue: Catalogue) -> Asking:
    """Ask how a part had failed; the likeliest way stands first and is taken on a yes."""
    v = catalogue.vocabulary
    known = {cause.failure for cause in catalogue.causes if cause.component == component}
    ways = [f for f in likely if f in known]
    ways += [f for f in v.failure_modes if f in known and f not in ways]
    label = v.components[component]
    if not ways:
        yes = yield from ask_yes(f"Was it the {label}?", "yes", "no, something else", _NOT_SEEN)
        return (yield from _named(catalogue)) if yes is False else {"component": component}
    choices = {f: f"{label}: {v.failure_modes[f]}" for f in ways}
    picked = yield from ask_one(
        "What was it? The likeliest stands first.",
        {**choices, _OTHER: "something else"},
        hint=_NOT_SEEN,
    )
    if picked == _OTHER:
        return (yield from _named(catalogue))
    return {"component": component, "failure": picked} if picked else {"component": component}


def _named(catalogue: Catalogue) -> Asking:
    component = yield from ask_component(
        catalogue, "What turned out to be wrong? Name the part.", "Enter if it is not known"
    )
    if component is None:
        return None
    v = catalogue.vocabulary
    known = {cause.failure for cause in catalogue.causes if cause.component == component}
    failures = {code: label for code, label in v.failure_modes.items() if code in known}
    failure = yield from ask_one(
        f"{v.components[component]}: what was wrong with it?", failures or v.failure_modes
    )
    return {"component": component, "failure": failure} if failure else {"component": component}


def _cause_named(catalogue: Catalogue) -> Asking:
    cause = yield from _named(catalogue)
    return {"cause": cause} if cause else {}


def _outcome(
    proposed: str | None, catalogue: Catalogue, before: str = "", but: str | None = None
) -> Asking:
    known = catalogue.vocabulary.outcomes
    codes = [proposed] if proposed else []
    codes += [code for code in known if code not in _NO_END and code not in (proposed, but)]
    hint = f"One key; Enter: {known[proposed]}" if proposed else "One key"
    picked = yield from ask_one(
        f"{before} How did it end?".strip(), {code: known[code] for code in codes}, hint=hint,
        needed=proposed is None,
    )  # fmt: skip
    return picked or proposed


def _put_back(
    session: Session, attempts: Sequence[Mapping[str, Any]], catalogue: Catalogue
) -> Asking:
    """Return how protections were left, by what the steps told; nothing where none was opened.

    What the attempts took out and no step put back is asked for by name, before the end is
    proposed: nobody may be led to call that a repair.
    """
    proofs = _proofs(session)
    out = protections_out(attempts, catalogue.sets.protections)
    unsaid = [component for component in out if component not in proofs]
    if unsaid and "defeated" not in proofs.values():
        back = yield from back_again(unsaid, catalogue)
        return left_as([*proofs.values(), back]) if back else {}
    return left_as(proofs.values()) if proofs else {}


def _protection() -> Asking:
    """Ask whether anything was bridged, where neither steps nor attempts have told it."""
    picked = yield from ask_one(
        "Was anything bridged or unplugged that stops or trips the set?",
        _PROTECTION,
        hint="One key; Enter if you did not look",
    )
    if picked is None:
        return {}
    if picked == "intact":
        return {"protection": {"found": "intact"}}
    if picked == "defeated":
        return {"protection": {"left": "defeated"}, "protection_defeated": True}
    return {"protection": {"found": "defeated", "left": _LEFT[picked]}}


def _proofs(session: Session) -> dict[str, str]:
    """How each protection that was opened was left: its newest word counts."""
    told = {}
    for event in session.log:
        if event.get("proof"):
            attempt = event.get("attempt", {})
            component = event.get("component") or attempt.get("component")
            told[str(component)] = str(event["proof"])
    return told


def _proved(machine: Machine, catalogue: Catalogue, ended: Mapping[str, Any]) -> Asking:
    yes = yield from ask_yes(
        "It runs again. A proving run shows that it will hold, and what good is. Do it now?",
        "yes",
        "no",
        "One key; Enter for no",
    )
    if not yes:
        return {}
    proved = yield from proving_run(catalogue, machine, "left")
    found: Ended = {"readings": proved.readings, "failed": proved.failed}
    if proved.protection and not ended.get("protection_defeated"):
        found["protection"] = {**ended.get("protection", {}), "left": "proved"}
    return found
