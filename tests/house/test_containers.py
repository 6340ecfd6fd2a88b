"""The image and its composition: valid, pinned, and no more allowed than they need."""

import re
import sys
from typing import Any

import pytest
import yaml
from typer.testing import CliRunner

from mendpool.admin import app
from mendpool.listening import open_to_others
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


OURS = [n for n, s in COMPOSE["services"].items() if s["image"].startswith("mendpool:")]
SERVING = [n for n in OURS if "ports" in COMPOSE["services"][n]]


def test_two_services_begin_when_the_database_and_its_tables_are_ready() -> None:
    assert len(SERVING) == 2
    for name in SERVING:
        assert _gates(name) >= {
            ("postgres", "service_healthy"),
            ("init", "service_completed_successfully"),
        }
    published = [port for n in SERVING for port in COMPOSE["services"][n]["ports"]]
    assert len({port.rsplit(":", 1)[0] for port in published}) == 2
    inside = re.findall(r"MENDPOOL_PORT=(\d+)", DOCKERFILE)
    assert {port.rsplit(":", 1)[1] for port in published} == set(inside)


def _gates(name: str) -> set[tuple[str, str]]:
    found: set[tuple[str, str]] = set()
    for other, gate in COMPOSE["services"][name].get("depends_on", {}).items():
        found |= {(other, gate["condition"])} | _gates(other)
    return found


@pytest.mark.parametrize("name", OURS)
def test_the_command_takes_what_a_container_gives_it(name: str) -> None:
    service = COMPOSE["services"][name]
    program, *words = service["command"]
    assert program == "pool"
    # Options are read before the help is given, so an unknown one would be refused.
    told = CliRunner().invoke(app, [*words, "--help"])
    assert told.exit_code == 0, told.output
    for variable in service["environment"]:
        assert variable == "MENDPOOL_SECRETS_DIR" or (
            variable.removeprefix("MENDPOOL_").lower() in Settings.model_fields
        )
    for secret in service["secrets"]:
        assert secret["target"].removeprefix("mendpool_") in Settings.model_fields


@pytest.mark.parametrize("name", SERVING)
def test_a_service_may_listen_where_the_ports_find_it(name: str) -> None:
    """The image listens to all; the ports above are this machine's own."""
    (host,) = re.findall(r"MENDPOOL_HOST=(\S+)", DOCKERFILE)
    given = COMPOSE["services"][name]["environment"]
    assert open_to_others(host)
    assert Settings(tls_in_front=given["MENDPOOL_TLS_IN_FRONT"]).tls_in_front
    assert "MENDPOOL_TLS_IN_FRONT=" not in re.sub("^#.*", "", DOCKERFILE, flags=re.MULTILINE)


@pytest.mark.parametrize("name", SERVING)
def test_a_service_writes_only_where_it_may(name: str) -> None:
    service = COMPOSE["services"][name]
    (volume,) = service["volumes"]
    assert volume.split(":")[1] in re.findall(r"^VOLUME (\S+)", DOCKERFILE, re.MULTILINE)
    assert service["environment"]["MENDPOOL_CACHE_DIR"].startswith(volume.split(":")[1])


@pytest.mark.parametrize("name", SERVING)
def test_the_stop_is_waited_for(name: str) -> None:
    grace = int(COMPOSE["services"][name]["stop_grace_period"].removesuffix("s"))
    assert grace > Settings.model_fields["stop_after_s"].default
