"""The bare package is the field command: it runs where no server is installed."""

import subprocess
import sys
import textwrap
import tomllib

from tests.house.tree import TOP

_PROJECT = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["project"]
_SERVERS = ("alembic", "fastapi", "jinja2", "PIL", "prometheus_client", "psycopg",
            "pydantic_settings", "starlette", "uvicorn")  # fmt: skip
_BLOCK = textwrap.dedent(
    f"""
    import sys

    class Absent:
        def find_spec(self, name, path=None, target=None):
            if name.partition(".")[0] in {_SERVERS!r}:
                raise ModuleNotFoundError(f"No module named {{name!r}}", name=name)

    sys.meta_path.insert(0, Absent())
    """
)


def without_servers(program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", _BLOCK + textwrap.dedent(program), *arguments],
        cwd=TOP, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL,
        env={"PYTHONPATH": "service:clients/field", "PATH": "/usr/bin", "HOME": "/nowhere"},
    )  # fmt: skip


def test_every_module_of_the_field_command_loads_without_a_server() -> None:
    done = without_servers(
        """
        import importlib, pkgutil, mendpool_field
        for module in pkgutil.walk_packages(mendpool_field.__path__, "mendpool_field."):
            importlib.import_module(module.name)
        print("all")
        """
    )
    assert done.stdout == "all\n", done.stderr


def test_every_extra_of_the_service_is_among_those_blocked() -> None:
    asked = {
        r.split(">")[0].split("[")[0] for r in _PROJECT["optional-dependencies"]["service"]
    }
    imported = {name.replace("-", "_") for name in asked} - {"pillow"} | {"PIL"}
    assert imported <= set(_SERVERS)


def test_help_is_there_without_a_server() -> None:
    done = without_servers(
        "import sys; from mendpool_field.cli import main; sys.exit(main())", "--help"
    )
    assert done.returncode == 0, done.stderr
    assert "judge" in done.stdout


def test_a_command_of_the_service_says_how_to_install_it() -> None:
    done = without_servers(
        "import sys; from mendpool_field.cli import main; sys.exit(main())", "pool", "init"
    )
    assert done.returncode == 2, done.stderr
    assert "mendpool[service]" in done.stderr
    assert "Traceback" not in done.stderr
