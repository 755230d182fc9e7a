"""The house itself: direction of imports, lint, types, top level, start-up, and pages that must not drift."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from ledger import refusals

ROOT = Path(__file__).resolve().parent.parent
TOP_LEVEL = {"DEVELOPERS.md", "README.md", "docs", "ledger", "pyproject.toml", "sample_books", "tests"}
HEAVY = {"numpy", "scipy", "matplotlib", "jinja2", "sqlite_utils", "xlsxwriter"}


def run(*arguments: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    return subprocess.run(arguments, cwd=cwd, capture_output=True, text=True, encoding="utf-8", check=False)


def python(*arguments: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    return run(sys.executable, *arguments, cwd=cwd)


# ---------------------------------------------------------------------------------------------------------- gates


@pytest.mark.parametrize(
    "gate",
    [
        pytest.param(["-c", "from importlinter.cli import lint_imports_command as lint; lint()"], id="import contract"),
        pytest.param(["-m", "ruff", "check", "ledger", "tests", "sample_books"], id="ruff"),
        pytest.param(["-m", "mypy"], id="mypy"),
    ],
)
def test_gate(gate: list[str]) -> None:
    done = python(*gate)
    assert done.returncode == 0, done.stdout + done.stderr


# ------------------------------------------------------------------------------------------------------ top level


def tracked() -> list[str]:
    inside = run("git", "rev-parse", "--show-toplevel")
    if inside.returncode or Path(inside.stdout.strip()).resolve() != ROOT:
        pytest.skip("not a git checkout")
    return run("git", "ls-files").stdout.splitlines() or pytest.skip("nothing committed yet")


def test_top_level_is_exactly_what_was_agreed() -> None:
    names = {path.split("/")[0].strip('"') for path in tracked()}
    assert {name for name in names if not name.startswith(".")} == TOP_LEVEL


# ------------------------------------------------------------------------------------------------------- start-up

START = """
import sys
sys.argv = ["lemel", *sys.argv[1:]]
from ledger.faces.cli.main import run
try:
    run()
except SystemExit as done:
    assert not done.code, done.code
finally:
    print(*sorted({name.partition(".")[0] for name in sys.modules}), file=sys.stderr)
"""

needs_cli = pytest.mark.skipif(not (ROOT / "ledger/faces/cli/main.py").is_file(), reason="no command line yet")


def loaded_by(*arguments: str, cwd: Path) -> set[str]:
    """Return the top-level modules that a fresh process has loaded after ``lemel ARGUMENTS``."""
    done = python("-c", f"import sys; sys.path.insert(0, {str(ROOT)!r})\n{START}", *arguments, cwd=cwd)
    assert done.returncode == 0, done.stdout + done.stderr
    return set(done.stderr.splitlines()[-1].split())


@needs_cli
@pytest.mark.parametrize("argument", ["--version", "--help"])
def test_quick_commands_load_nothing_heavy(argument: str, tmp_path: Path) -> None:
    assert loaded_by(argument, cwd=tmp_path) & HEAVY == set()


@needs_cli
def test_stock_loads_nothing_heavy(tmp_path: Path) -> None:
    plant = ROOT / "sample_books/month/plant.toml"
    if not plant.is_file():
        pytest.skip("no sample plant yet")
    loaded_by("new", "sample.lemel", "--plant", str(plant), cwd=tmp_path)
    assert loaded_by("stock", cwd=tmp_path) & HEAVY == set()


# ---------------------------------------------------------------------------------------------------------- pages


def sections(page: str) -> list[tuple[str, str]]:
    """Return (code, text) of each section headed by a code in backticks."""
    parts = re.split(r"^## `([a-z]+)`\n", (ROOT / page).read_text(encoding="utf-8"), flags=re.MULTILINE)
    return list(zip(parts[1::2], parts[2::2], strict=True))


def errors() -> list[type[refusals.LemelError]]:
    named = vars(refusals).values()
    return [kind for kind in named if isinstance(kind, type) and issubclass(kind, refusals.LemelError)]


def test_every_refusal_has_its_own_code() -> None:
    codes = [kind.code for kind in errors()]
    assert len(codes) == len(set(codes))


def test_every_code_has_exactly_one_section() -> None:
    assert sorted(code for code, _ in sections("docs/reference/refusals.md")) == sorted(kind.code for kind in errors())


@pytest.mark.parametrize("kind", errors(), ids=lambda kind: kind.code)
def test_a_section_says_exit_status_and_mend(kind: type[refusals.LemelError]) -> None:
    text = dict(sections("docs/reference/refusals.md"))[kind.code]
    assert f"Exit status {kind.exit_status}." in " ".join(text.split())
    assert re.search(r"^\*\*Mend\.\*\* \S", text, re.MULTILINE)


def test_ci_runs_the_second_command_of_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = re.findall(r"^(python3 -m venv .+)$", readme, re.MULTILINE)
    assert len(commands) == 2
    assert commands[1] in (ROOT / ".ci/run").read_text(encoding="utf-8").splitlines()


PAGES = [*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md"), *ROOT.glob("sample_books/**/*.md")]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    links = re.findall(r"\]\((?!\w+:)([^)#\s]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8"))
    assert [link for link in links if not (page.parent / link).exists()] == []
