"""A session at the set: what was said, measured and done, kept after every answer.

One file a set, `sessions/barn.json`, written whole and flushed to the disk each time, so that
a dead battery costs the answer being typed and nothing before it. It holds free text and
stays on this machine; only its owner reads it.

Events of the log, each a JSON object by its `kind`:

    said    more words about what it does: `text`
    safe    something was made safe: `says`, the step's own words
    saw     a check answered: `observation`
    read    a figure: `reading`, and the `check` it answers where one was asked
    tried   something done: `attempt`; `proof` of a protection it opened; `likely` failures of
            the part, likeliest first; `get_by` where it was one
    proved  a protection proved, or not: `component`, `proof`
    skip    a step left out: `step`
    over    the end without a cure: `why`
"""

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from mendpool_field.asked import NO_SET
from mendpool_field.disk import read_object, remove_durably, write_object
from mendpool_field.errors import DamagedFile
from mendpool_field.layout import words as spaced
from mendpool_field.scrubbing import cut

Event = dict[str, Any]
_COUNTED = frozenset({"saw", "read", "tried", "proved", "skip"})
_DAY_S = 86_400.0


@dataclass(slots=True)
class Session:
    """A session.

    Args:
        on: the set's name, `NO_SET` for one that has none.
        machine: its nameplate.
        asked: what was said at the start, as a question of the wire less its machine.
        log: what happened since, oldest first.
        symptoms: what the words were understood to say, surely.
        dialog: questions being answered: what they are `about`, and the answers `typed`.
        report: the id of the report it becomes, once there is one.
        kept_s: when it was last kept, seconds since 1970.
    """

    on: str
    machine: dict[str, Any]
    asked: dict[str, Any]
    log: list[Event] = field(default_factory=list)
    symptoms: list[str] = field(default_factory=list)
    dialog: dict[str, Any] | None = None
    report: str | None = None
    kept_s: float = 0.0

    @property
    def place(self) -> int:
        """The number of the step it stands at."""
        return 1 + sum(event.get("kind") in _COUNTED for event in self.log)

    def of(self, kind: str) -> list[Event]:
        """Return the events of a kind, oldest first."""
        return [event for event in self.log if event.get("kind") == kind]

    def take_out(self, said: str) -> int:
        """Take a word or words out of what was told, here too; return how often they stood.

        The last question of the ending is the note.
        """
        holders = [(self.asked, "complaint"), *((event, "text") for event in self.of("said"))]
        times = 0
        for holder, name in holders:
            if isinstance(holder.get(name), str):
                holder[name], found = cut(holder[name], said)
                times += found
        if self.dialog and self.dialog.get("typed"):
            self.dialog["typed"][-1], found = cut(self.dialog["typed"][-1], said)
            times += found
        return times

    @property
    def is_empty(self) -> bool:
        """Whether nothing at all was told yet."""
        return not (self.asked or self.log or (self.dialog or {}).get("typed"))

    @property
    def is_over(self) -> bool:
        """Whether the looking has ended: cured, got by, or given up."""
        last = self.log[-1] if self.log else {}
        cured = last.get("kind") == "tried" and last["attempt"].get("result") == "fixed"
        return cured or last.get("kind") == "over"


class Sessions:
    """The sessions in one member's folder."""

    def __init__(self, home: Path) -> None:
        self._folder = home / "sessions"

    def of(self, on: str) -> Session | None:
        """Return the session about a set; None where there is none.

        Raises:
            DamagedFile: the file holds something else.
        """
        path = self._path(on)
        found = read_object(path)
        if found is None:
            return None
        try:
            session = Session(**found)
        except TypeError as error:
            raise DamagedFile(path, "it holds no session") from error
        if session.on != on or not all(isinstance(e, dict) for e in session.log):
            raise DamagedFile(path, "it holds another session, or half of one")
        return session

    def all(self) -> Iterator[Session]:
        """Give every session that is kept and can be read."""
        held = sorted(self._folder.glob("*.json")) if self._folder.is_dir() else []
        for path in held:
            with suppress(DamagedFile, OSError):
                session = self.of(path.stem)
                if session is not None:
                    yield session

    def keep(self, session: Session, now_s: float) -> None:
        """Keep a session; when this returns it outlives a power cut."""
        session.kept_s = now_s
        write_object(self._path(session.on), asdict(session))

    def remove(self, session: Session) -> None:
        """Forget a session that has become a report."""
        remove_durably(self._path(session.on))

    def set_aside(self, session: Session) -> Path:
        """Move a session out of the way of a new one; return where it lies now."""
        aside = self._folder / f"{session.on}.aside.json"
        write_object(aside, asdict(session))
        remove_durably(self._path(session.on))
        return aside

    def lock_of(self, on: str) -> Path:
        """Return the file whose lock says that a session is being walked."""
        return self._folder / f"{on}.lock"

    def _path(self, on: str) -> Path:
        return self._folder / f"{on}.json"


def where_it_stands(session: Session, now_s: float) -> str:
    """Say which session this is and how far it came."""
    told = session.asked.get("complaint") or ", ".join(session.asked.get("symptoms", ()))
    about = f" (“{told}”)" if told else ""
    name = "" if session.on == NO_SET else f" with {session.on}"
    at = "at the report" if session.is_over else f"at step {session.place}"
    return f"You were {at}{name}{about} {ago(now_s - session.kept_s)}."


def told_so_far(session: Session) -> str:
    """Say in one sentence what was found and done; empty where nothing was yet."""
    told = [words for event in session.log if (words := _in_words(event))]
    return f"So far: {'; '.join(told)}." if told else ""


def _in_words(event: Event) -> str:
    kind = event.get("kind")
    if kind == "saw":
        seen = event["observation"]
        return f"{spaced(seen.get('check'))}: {spaced(seen.get('found'))}"
    if kind == "read":
        reading = event["reading"]
        place = f"{spaced(reading.get('quantity'))}, {spaced(reading.get('point'))}: "
        return str(reading.get("text") or f"{place}{reading.get('value')}")
    if kind == "tried":
        made = event["attempt"]
        what = f"{spaced(made.get('component'))} {spaced(made.get('action'))}"
        return f"{what}: {spaced(made.get('result'))}"
    return f"left out {spaced(event['step'][1])}" if kind == "skip" else ""


def ago(seconds: float) -> str:
    """Say how long ago, as people do."""
    if seconds < 3600:
        return "a short while ago"
    if seconds < _DAY_S:
        return f"{seconds / 3600:.0f} h ago"
    days = int(seconds // _DAY_S)
    return "yesterday" if days == 1 else f"{days} days ago"


def command_to_go_on(session: Session) -> str:
    """Return what to type to go on with it."""
    on = "" if session.on == NO_SET else f" --on {session.on}"
    return f"mendpool ask{on} --steps"


def skipped_steps(session: Session) -> set[tuple[str, ...]]:
    """Return the steps that are not to be asked for again in this session.

    Those left out, and the checks that were answered: a figure that no limit could judge
    settles nothing, and asking for it again would not either.
    """
    left = {tuple(event["step"]) for event in session.of("skip")}
    done = {("test", e["observation"]["check"], "") for e in session.of("saw")}
    read = {("test", e["check"], "") for e in session.of("read") if e.get("check")}
    shown = {("prove", e["component"], "") for e in session.of("proved")}
    return left | done | read | shown


def key_of(step: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what tells a step of a plan from the others."""
    named = step.get("check") or step.get("component") or ""
    return (str(step.get("do", "")), str(named), str(step.get("action") or ""))
