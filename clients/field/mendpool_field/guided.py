"""The guided report, its answers kept so that a dead battery costs none of them."""

from collections.abc import Generator
from pathlib import Path
from typing import Any

from mendpool_field import console
from mendpool_field.asked import last_asked_about, name_of
from mendpool_field.disk import read_object, remove_durably, write_object
from mendpool_field.exitcodes import ExitCode
from mendpool_field.face import TextFace
from mendpool_field.guide import interview
from mendpool_field.questions import Step
from mendpool_field.replay import Stopped, WentBack, answered, is_complete
from mendpool_field.sessions import ago
from mendpool_field.sets import Plate, latest_first, read_sets
from mendpool_field.settings import Settings


def guided_report(known: Settings, plate: Plate, on: str | None) -> dict[str, Any]:
    """Ask for a report from the first question, or from where the answers kept end.

    Ends the command where the person stops.
    """
    sets = latest_first(read_sets(known.home), last_asked_about(known.home))
    named = plate if plate.get("fuel") else None
    # The keys of choices are places in these: with others the old answers mean nothing.
    catalogue = console.catalogue(known)
    asked_of = {"sets": list(sets), "plate": named, "catalogue": catalogue.version}
    path = _file(known.home, on)
    typed = _kept(path, asked_of)

    def keep() -> None:
        write_object(path, {**asked_of, "typed": typed, "kept_s": console.now_s()})

    def start() -> Generator[Step, str, dict[str, Any]]:
        return interview(catalogue, sets, named)

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


def _kept(path: Path, asked_of: dict[str, Any]) -> list[str]:
    """Return the answers kept, if they are of the same questions and still wanted."""
    kept = read_object(path) or {}
    typed = kept.get("typed")
    same = all(kept.get(field) == value for field, value in asked_of.items())
    if not same or not isinstance(typed, list) or not typed:
        return []
    when = ago(console.now_s() - float(kept.get("kept_s") or 0))
    console.talk(f"You had begun this report {when}; {len(typed)} answers are kept.")
    return [str(word) for word in typed] if console.wants_yes("Go on with it?") else []


def _tell_kept(typed: list[str], on: str | None) -> None:
    if not typed:
        console.talk("Nothing was answered, so nothing was kept.")
        return
    console.talk("Kept, every answer; nothing was sent. To go on:")
    console.talk_command(f"mendpool report{f' --on {name_of(on)}' if on else ''}")


def _file(home: Path, on: str | None) -> Path:
    return home / "answers" / f"{name_of(on)}.json"
