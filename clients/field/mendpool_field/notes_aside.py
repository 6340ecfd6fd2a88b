"""Set aside what was kept about a set: for another plate it would be wrong.

It is not ours to throw away. `aside/barn-2026-11-28/` then holds its good readings, the last
question, answers, a session and what came off, each named for where it lay. Of
a second on one day the folder gets a number.
"""

from datetime import UTC, datetime
from pathlib import Path

from mendpool_field.disk import locked, make_folder, read_object, write_object

_FOLDERS = ("asked", "sessions", "before-off", "answers")


def set_notes_aside(home: Path, name: str, now_s: float) -> Path | None:
    """Move all that is kept about a set out of the way, whatever state it is in.

    Args:
        home: the folder of everything kept.
        name: of the set, as it is kept.
        now_s: seconds since 1970; its day names the folder.

    Returns:
        Where it lies now; None where nothing was kept.
    """
    kept = [
        (folder, path)
        for folder in _FOLDERS
        for ending in (".json", ".aside.json")
        if (path := home / folder / f"{name}{ending}").exists()
    ]
    with locked(home / "past.lock", wait=True):
        past = read_object(home / "past.json") or {}
        if not kept and name not in past:
            return None
        aside = _unused(home / "aside", f"{name}-{datetime.fromtimestamp(now_s, UTC):%Y-%m-%d}")
        make_folder(aside)
        if name in past:
            # Written there before it goes here, so that a power cut loses nothing.
            write_object(aside / "past.json", {name: past[name]})
            write_object(home / "past.json", {n: v for n, v in past.items() if n != name})
    for folder, path in kept:
        path.replace(aside / f"{folder}-{path.name}")
    return aside


def _unused(folder: Path, stem: str) -> Path:
    number, place = 1, folder / stem
    while place.exists():
        number += 1
        place = folder / f"{stem}-{number}"
    return place
