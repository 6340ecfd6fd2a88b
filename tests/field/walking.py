"""Plans for a walked session, made by hand, and the lines a person types at them."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tests.field.fake_pool import ANSWER, Call, FakePool, Reply, as_json

LOOK = {
    "do": "test", "check": "walk-round", "how": "Walk round it once.", "expect": "All well.",
    "minutes": 1, "says": "One minute round the set: about 1 min. What changed last?",
    "results": [["all-right", "All well: Go on."], ["fuel-out", "Tank empty: Fill it."]],
}  # fmt: skip
VOLTS = {
    "do": "test", "check": "output-volts", "how": "Meter at the outlet.", "minutes": 2,
    "says": "Volts at the output: about 2 min. It is expected to save about 9 min.",
    "cautions": ["live-test"],
    "results": [["low", "Nothing: no field."], ["within", "Right: look on."],
                ["high", "Too high: stop."]],
}  # fmt: skip
AVR = {
    "do": "fix", "component": "avr", "action": "replace", "minutes": 40, "chance": 0.3,
    "how": "Same leads, same size.",
    "says": "voltage regulator: replace. If it comes to this, about 3 in 10 that it cures.",
}  # fmt: skip
BRUSHES = {
    "do": "fix", "component": "brushes", "action": "replace", "minutes": 25, "chance": 0.5,
    "how": "Whole block.", "wait": 240.0, "opens": "end-cover",
    "or_else": "cleaning the rings first is as good",
    "says": "brushes and holder: replace. If it comes to this, about 5 in 10 that it cures.",
}  # fmt: skip
SWITCH = {
    "do": "fix", "component": "oil-switch", "action": "replace", "minutes": 25,
    "says": "oil pressure or level switch: replace. About 6 in 10 that it cures.",
}  # fmt: skip
PROVE = {
    "do": "prove", "component": "oil-switch",
    "says": "oil switch: put it back and prove that it stops the set.",
}  # fmt: skip
SAFE = {
    "do": "safe", "says": "Shut the fuel tap before anything else.", "how": "No starting.",
    "cautions": ["fuel-fire"], "source": "common practice",
}  # fmt: skip
CALL = {"do": "call", "says": "Stop and call someone."}
GET_BY = {
    "component": "fuel-solenoid", "action": "bypass", "worked": 4, "tried": 5, "people": 3,
    "protection_defeated": True, "risk": "It can't be stopped by its switch.",
    "time_limit": "one night, never alone", "restore": "Put it back and prove it.",
}  # fmt: skip
CAUSES = [
    {"component": "brushes", "failure": "worn", "probability": 0.5, "says": "brushes: worn"},
    {"component": "brushes", "failure": "seized", "probability": 0.2, "says": "brushes: stuck"},
    {"component": "avr", "failure": "failed", "probability": 0.1, "says": "regulator: failed"},
    {"component": None, "failure": None, "probability": 0.2, "says": "something else"},
]  # fmt: skip


class Planner:
    """Answers with what is left of some steps: what was answered or done drops out."""

    def __init__(self, *steps: Mapping[str, Any]) -> None:
        self.steps = steps
        self.asked: list[dict[str, Any]] = []

    def ask(self, question: Mapping[str, Any]) -> dict[str, Any]:
        self.asked.append(json.loads(json.dumps(question)))
        looked = {look["check"] for look in question.get("observations", ())}
        done = {
            (made["component"], made["action"])
            for made in question.get("tried", ())
            if made["result"] != "part-no-good"
        }
        if question.get("readings"):
            looked.add("output-volts")
        plan: list[Mapping[str, Any]] = []
        for step in self.steps:
            fixed = (step.get("component"), step.get("action")) in done
            dropped = step["do"] == "prove" and (not plan or plan[-1]["do"] != "fix")
            if step.get("check") not in looked and not fixed and not dropped:
                plan.append(step)
        get_bys = [GET_BY] if question.get("get_by") else []
        return {**ANSWER, "plan": [*plan, CALL], "causes": CAUSES, "get_bys": get_bys}

    def at(self, pool: FakePool) -> "Planner":
        """Answer in a pool's place."""

        def instead(call: Call) -> Reply | None:
            return as_json(self.ask(call.json)) if call.path == "/v1/ask" else None

        pool.instead = instead
        return self


def lines(*typed: str) -> str:
    return "".join(f"{line}\n" for line in typed)


def kept(home: Path, name: str = "barn") -> dict[str, Any]:
    found: dict[str, Any] = json.loads((home / "sessions" / f"{name}.json").read_bytes())
    return found


def is_kept(home: Path, name: str = "barn") -> bool:
    return (home / "sessions" / f"{name}.json").exists()
