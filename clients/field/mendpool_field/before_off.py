"""What sat where before a part came off: kept with the set, private, shown in reverse.

`before-off/barn.json` holds a record for each part that came off, with its tags in the order
they were noted. Every line is on the disk before the next is asked for.
"""

from pathlib import Path
from typing import Any

from mendpool_field import console
from mendpool_field.disk import locked, read_object, write_object
from mendpool_field.errors import BadUsage, DamagedFile
from mendpool_field.layout import clean, pages, para, section

Record = dict[str, Any]
_ASKS = "Tag, wire colour, where it goes; or a link, a pot's position. Enter ends."
_LINE_MAX, _LINES_MAX = 300, 200


class Kept:
    """The records of one set that are not closed yet, and the way to add to them."""

    def __init__(self, home: Path, name: str) -> None:
        self._name = name.strip().lower()
        self._path = home / "before-off" / f"{self._name}.json"
        self._lock = home / "before-off" / f"{self._name}.lock"

    @property
    def name(self) -> str:
        """The set's short name."""
        return self._name

    @property
    def open(self) -> list[Record]:
        """What is off, the first off first.

        Raises:
            DamagedFile: the file holds something else.
        """
        return [record for record in self._records() if record["tags"]]

    def note(self, part: str, tag: str) -> None:
        """Note a tag of a part; when this returns it is on the disk."""
        with locked(self._lock, wait=True):
            records = self._records()
            mine = next((r for r in records if r["part"] == part), None)
            if mine is None:
                mine = {"part": part, "tags": [], "since_s": console.now_s()}
                records.append(mine)
            if len(mine["tags"]) >= _LINES_MAX:
                raise BadUsage(f"{part} has {_LINES_MAX} notes already.", "Begin another part.")
            mine["tags"].append(tag)
            write_object(self._path, {"records": records})

    def is_back(self, part: str) -> None:
        """Strike the last tag of a part: that thing is back where it was."""
        with locked(self._lock, wait=True):
            records = self._records()
            mine = next((r for r in records if r["part"] == part), None)
            if mine is not None and mine["tags"]:
                mine.setdefault("back", []).append(mine["tags"].pop())
            write_object(self._path, {"records": records})

    def _records(self) -> list[Record]:
        found = (read_object(self._path) or {"records": []}).get("records")
        if not isinstance(found, list) or not all(
            isinstance(r, dict) and isinstance(r.get("tags"), list) and r.get("part")
            for r in found
        ):
            raise DamagedFile(self._path, "it holds no notes")
        return found


def keep_lines(kept: Kept, typed: str) -> None:
    """Ask for the tags of a part until an empty line, keeping each."""
    part = clean(typed)[:_LINE_MAX]
    if not part:
        raise BadUsage(
            "No part was named.", f'Try: mendpool before-off {kept.name} "regulator"'
        )
    noted = 0
    console.talk(f"{part}: {_ASKS} A photograph besides does no harm.")
    while True:
        try:
            tag = clean(console.read_line(f"What is number {noted + 1}? "))[:_LINE_MAX]
        except EOFError:
            tag = ""
        if not tag:
            break
        kept.note(part, tag)
        noted += 1
    console.talk(
        f"Kept, {noted} of {part}. To see them in reverse:" if noted else "Nothing noted."
    )
    if noted:
        console.talk_command(f"mendpool before-off {kept.name}")


def backwards_text(kept: Kept, width: int) -> str:
    """Return what is off in the order it goes back: last off first, its last tag first."""
    blocks = []
    for record in reversed(kept.open):
        tags = record["tags"]
        lines = [
            line
            for place in range(len(tags), 0, -1)
            for line in para(tags[place - 1], width, first=f"{place:>3} ", rest="    ")
        ]
        blocks.append(section(f"BACK ON: {record['part']}", lines))
    return pages(blocks)


def put_back(kept: Kept) -> None:
    """Go through it backwards, one thing at a time; what is back is struck out at once."""
    for record in reversed(kept.open):
        console.talk(f"Back on: {record['part']}.")
        for tag in reversed(record["tags"]):
            try:
                if not console.wants_yes(f"{tag}. Is it back?"):
                    console.talk("Stopped there; the rest is kept.")
                    return
            except EOFError:
                console.talk("Stopped there; the rest is kept.")
                return
            kept.is_back(record["part"])
        console.talk(
            f"All of it is back: {record['part']}. Prove what it protects before load."
        )
