"""The image and its composition: valid, pinned, and no more allowed than they need."""

import re
import sys
from typing import Any

import pytest
import yaml

from mendpool.settings import Settings

from tests.house.tree import PROGRAMS, TOP, run

COMPOSE: dict[str, Any] = yaml.safe_load((TOP / "docker-compose.yml").read_text("utf-8"))
DOCKERFILE = (TOP / "service" / "Dockerfile").read_text("utf-8")
_PINNED = re.compile(r".+:\d+\.\d+[\w.-]*")


def test_the_composition_is_valid() -> None:
    code, said = run(
        sys.executable, "-m", "check_jsonschema",
        "--builtin-schema", "vendor.compose-spec", "docker-compose.yml",
    )  # fmt: skip
    assert code == 0, said


def test_hadolint_finds_nothing() -> None:
    code, said = run(str(PROGRAMS / "hadolint"), "service/Dockerfile")
    assert (code, said) == (0, "")


@pytest.mark.parametrize("name", sorted(COMPOSE["services"]))
def test_a_container_may_do_no_more_than_it_needs(name: str) -> None:
    service = COMPOSE["services"][name]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert "no-new-privileges:true" in service["security_opt"]
    assert any(mount.startswith("/tmp:") for mount in service["tmpfs"])  # noqa: S108 - in there
    assert _PINNED.fullmatch(service["image"])
    assert "privileged" not in service
    assert "cap_add" not in service
    for port in service.get("ports", ()):
        assert port.startswith("127.0.0.1:")


def test_no_secret_stands_in_the_composition() -> None:
    for service in COMPOSE["services"].values():
        for name, value in service.get("environment", {}).items():
            if "PASSWORD" in name or "SECRET" in name:
                assert name.endswith(("_FILE", "_DIR"))
                assert value.startswith("/run/secrets")
            assert "://" not in str(value)


def test_the_image_is_pinned_hashed_and_not_root() -> None:
    bases = re.findall(r"^FROM (\S+)", DOCKERFILE, re.MULTILINE)
    assert bases
    assert all(_PINNED.match(base) for base in bases)
    assert re.findall(r"^USER (\d+):\d+$", DOCKERFILE, re.MULTILINE)[-1] != "0"
    assert "--require-hashes" in DOCKERFILE
    assert "HEALTHCHECK" in DOCKERFILE
    assert "curl" not in DOCKERFILE


def test_the_stop_is_waited_for() -> None:
    grace = int(COMPOSE["services"]["service"]["stop_grace_period"].removesuffix("s"))
    assert grace > Settings.model_fields["stop_after_s"].default
