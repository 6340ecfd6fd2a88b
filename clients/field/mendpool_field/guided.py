"""The guided report, its answers kept so that a dead battery costs none of them."""

from collections.abc import Generator
from pathlib import Path
from typing import Any

from mendpool_field import console
from mendpool_field.asked import name_of
from mendpool_field.disk import read_object, remove_durably, write_object
from mendpool_field.exitcodes import ExitCode
from mendpool_field.face import TextFace
from mendpool_field.guide import interview
from mendpool_field.questions import Step
from mendpool_field.replay import Stopped, WentBack, answered, is_complete
from mendpool_field.sessions import ago
from mendpool_field.sets import Plate, read_sets
from mendpool_field.settings import Settings
from mendpool_field.usual import Used, Usual


def guided_report(known: Settings, plate: Plate, on: str | None) -> dict[str, Any]:
    """Ask for a report from the first question, or from where the answers kept end.

    Ends the command where the person stops.
    """
    catalogue = console.catalogue(known)
    named = plate if plate.get("fuel") else None
    own = read_sets(known.home)
    path = _file(known.home, on)
    # The keys of choices are places in these: with others the old answers mean nothing.
    asked_of = {"plates": own, "plate": named, "catalogue": catalogue.version}
    kept = _kept(path, asked_of)
    typed = [str(word) for word in kept["typed"]] if kept else []
    about = None if named is None else (name_of(on), named)
    sets, usual = _offered(known, kept, own, about)
    offered = {"sets": list(sets), "usual": {name: u.told() for name, u in usual.items()}}

    def keep() -> None:
        fresh = {"typed": typed, "kept_s": console.now_s()}
        write_object(path, {**asked_of, **offered, **fresh})

    def start() -> Generator[Step, str, dict[str, Any]]:
        return interview(catalogue, sets, named, usual, name_of(on) if named else None)

    if is_complete(start, typed):
        typed.pop()  # so that it can be answered otherwise, where it was refused
    while True:
        try:
            return answered(start, typed, TextFace(), keep)
        except WentBack:
            console.talk("This is the first question.")
        except Stopped:
            _tell_kept(typed, on)
            console.end(ExitCode.DONE)
        except (EOFError, KeyboardInterrupt):
            _tell_kept(typed, on)
            console.end(ExitCode.INTERRUPTED)


def forget_answers(home: Path, on: str | None) -> None:
    """Forget the answers of a report that was sent, or was not to be."""
    remove_durably(_file(home, on))


def _offered(
    known: Settings,
    kept: dict[str, Any] | None,
    own: dict[str, Plate],
    named: tuple[str, Plate] | None,
) -> tuple[dict[str, Plate], dict[str, Usual]]:
    """Return the sets, those used last first, and what was used on each."""
    if kept is not None:
        # As it was when it was begun: what was used since must not move the keys.
        usual = {name: Usual.of(told) for name, told in kept["usual"].items()}
        return {name: own[name] for name in kept["sets"]}, usual
    used, catalogue = Used(known.home), console.catalogue(known)
    sets = used.first(own)
    plates = {**sets, **dict([named] if named else ())}
    return sets, {name: used.on(name, plate, catalogue) for name, plate in plates.items()}


def _kept(path: Path, asked_of: dict[str, Any]) -> dict[str, Any] | None:
    """Return what is kept, if it is answers to the same questions and still wanted."""
    kept = read_object(path) or {}
    typed = kept.get("typed")
    same = all(kept.get(field) == value for field, value in asked_of.items())
    whole = sorted(kept.get("sets", ())) == sorted(asked_of["plates"]) and "usual" in kept
    if not (same and whole) or not isinstance(typed, list) or not typed:
        return None
    when = ago(console.now_s() - float(kept.get("kept_s") or 0))
    console.talk(f"You had begun this report {when}; {len(typed)} answers are kept.")
    return kept if console.wants_yes("Go on with it?") else None


def _tell_kept(typed: list[str], on: str | None) -> None:
    if not typed:
        console.talk("Nothing was answered, so nothing was kept.")
        return
    console.talk("Kept, every answer; nothing was sent. To go on:")
    console.talk_command(f"mendpool report{f' --on {name_of(on)}' if on else ''}")


def _file(home: Path, on: str | None) -> Path:
    return home / "answers" / f"{name_of(on)}.json"
