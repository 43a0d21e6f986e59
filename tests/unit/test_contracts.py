"""The habits of this project that a machine can check.

These rules are the project's own (CONTRIBUTING.md, docs/decisions); no outside source.
"""

from __future__ import annotations

import ast
import re
import runpy
import subprocess
import sys
import tomllib
import zipfile
from importlib.metadata import distributions, packages_distributions
from pathlib import Path

import pytest

import glowtrace

ROOT = Path(__file__).resolve().parents[2]
LONGEST_FILE = 500
LONG_FOR_A_REASON: frozenset[str] = frozenset()
"""Files (relative to the root) that may be longer: tables of constants."""
OWN_CODE = ("src", "tests", "docs", "benchmarks", "tooling")
PUBLIC_NAMES = [
    "Bench",
    "GlowtraceError",
    "GlowtraceWarning",
    "Knowledge",
    "MeanTrace",
    "Picture",
    "PreparedBench",
    "Ray",
    "Settings",
    "Textbook",
    "__version__",
    "check_safety",
    "fit_specific_charge",
    "knowledge_of",
    "learn",
    "load_bench",
    "load_settings",
    "outcome_map",
    "plan_goal",
    "predict",
    "prepare",
    "ready_made",
    "ready_made_names",
    "run_sheet",
    "save_bench",
    "save_settings",
    "sweep",
    "textbook_trace",
    "wire",
]
"""Every name that `import glowtrace` promises, sorted: a change here is a change for users."""
EXAMPLES = sorted((ROOT / "docs" / "examples").glob("[0-9][0-9]_*.py"))
ROOMS_WITHOUT_A_CONCEPT = {"utils", "util", "helpers", "helper", "common", "manager", "misc"}
COMES_WITH = {"pydantic_core": "pydantic", "llvmlite": "numba", "starlette": "nicegui"}
"""Imported packages that are part of a declared one, which pins their version."""
WEB_TEXTS = {".py", ".js", ".mjs", ".css", ".html", ".svg", ".vue", ".json"}
XML_NAMESPACES = ("http://www.w3.org",)
"""Names that look like addresses and are never fetched."""


def run(*command: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *command], cwd=ROOT, capture_output=True, text=True, timeout=300
    )


def own_python_files() -> list[Path]:
    below = [path for folder in OWN_CODE for path in sorted((ROOT / folder).rglob("*.py"))]
    return [ROOT / "tasks.py", *below]


def relative(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def test_no_file_is_too_long_to_read_in_one_go():
    lengths = {relative(p): len(p.read_text("utf-8").splitlines()) for p in own_python_files()}
    assert len(lengths) > 10
    too_long = {
        name: lines
        for name, lines in lengths.items()
        if lines > LONGEST_FILE and name not in LONG_FOR_A_REASON
    }
    assert too_long == {}


def test_modules_are_named_for_a_concept():
    parts = {part for path in own_python_files() for part in Path(relative(path)).parts}
    stems = {part.removesuffix(".py") for part in parts}
    assert stems & ROOMS_WITHOUT_A_CONCEPT == set()


def test_every_file_of_tests_has_a_name_of_its_own():
    # Two of one name in different folders cannot be collected in one run.
    names = [path.name for path in (ROOT / "tests").rglob("test_*.py")]
    assert sorted(names) == sorted(set(names))


def test_import_glowtrace_gives_exactly_the_promised_names():
    assert sorted(glowtrace.__all__) == PUBLIC_NAMES
    missing = [name for name in PUBLIC_NAMES if not hasattr(glowtrace, name)]
    assert missing == []


def test_readme_and_docs_are_in_step_with_the_program():
    checked = run("docs/generate.py", "--check")
    assert checked.returncode == 0, checked.stdout + checked.stderr


def test_there_is_a_first_example_of_about_ten_lines():
    code = [
        line
        for line in EXAMPLES[0].read_text("utf-8").split('"""')[2].splitlines()
        if line.strip() and not line.startswith("#")
    ]
    assert 5 <= len(code) <= 14


@pytest.mark.slow
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_example_runs(example, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", [str(example)])
    runpy.run_path(str(example), run_name="__main__")
    assert capsys.readouterr().out.strip(), "an example shows its result"


def test_links_between_documents_lead_somewhere():
    documents = [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")]
    broken = [
        f"{relative(document)}: {target}"
        for document in documents
        for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", document.read_text("utf-8"))
        if "://" not in target and not (document.parent / target).exists()
    ]
    assert documents
    assert broken == []


def test_the_page_asks_for_nothing_from_outside():
    pattern = re.compile(r"https?://[\w.-]+|[\"'(]//[a-z0-9.-]+\.[a-z]{2,}/")
    texts = [p for p in (ROOT / "src/glowtrace/web").rglob("*") if p.suffix in WEB_TEXTS]
    found = [
        f"{relative(path)}: {address}"
        for path in texts
        for address in pattern.findall(path.read_text("utf-8"))
        if not address.startswith((*XML_NAMESPACES, "http://127.0.0.1", "http://localhost"))
    ]
    assert texts
    assert found == []


@pytest.mark.parametrize("kind", ["run", "dev", "bench"])
def test_lock_file_is_pinned_hashed_and_names_no_index(kind):
    lines = (ROOT / "requirements" / f"{kind}.txt").read_text("utf-8").splitlines()
    code = [line for line in lines if line.strip() and not line.lstrip().startswith("#")]
    packages = [line for line in code if not line.startswith(" ")]
    assert packages
    assert all(re.match(r"[a-z0-9][a-z0-9._-]*(\[[a-z,-]+\])?==\S+ ", line) for line in packages)
    assert all(line.endswith("\\") for line in packages), "a package without a hash"
    assert not [line for line in lines if "://" in line or "index" in line.split("#")[0]]


def test_lock_file_names_the_extras_that_packages_ask_for():
    # Where a pin leaves an extra out, pip with hashes takes the newest release for it, and the
    # set-up breaks on the day that one appears.
    lock = (ROOT / "requirements" / "dev.txt").read_text("utf-8")
    pinned = dict(re.findall(r"^([a-z0-9][a-z0-9._-]*)(\[[a-z,-]+\])?==", lock, re.MULTILINE))
    asked = {
        re.sub(r"[-_.]+", "-", match[1]).lower()
        for distribution in distributions()
        if re.sub(r"[-_.]+", "-", distribution.name).lower() in pinned
        for requirement in distribution.requires or ()
        if "extra ==" not in requirement
        if (match := re.match(r"([\w.-]+)\[", requirement))
    }
    assert "coverage" in asked
    assert [name for name in asked if not pinned[name]] == []


def test_wheel_carries_what_the_program_reads(tmp_path):
    built = run("-m", "hatchling", "build", "-t", "wheel", "-d", tmp_path)
    assert built.returncode == 0, built.stderr
    (wheel,) = tmp_path.glob("*.whl")
    carried = set(zipfile.ZipFile(wheel).namelist())
    source = ROOT / "src"
    wanted = {
        path.relative_to(source).as_posix()
        for path in (source / "glowtrace").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert "glowtrace/bench/ready_made/deflection-tube.toml" in wanted
    assert wanted - carried == set()


def test_every_import_of_the_program_is_a_declared_dependency():
    pyproject = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    project = pyproject["project"]
    extras = [text for texts in project["optional-dependencies"].values() for text in texts]
    declared = {distribution_name(text) for text in (*project["dependencies"], *extras)}
    trees = [ast.parse(path.read_text("utf-8")) for path in (ROOT / "src").rglob("*.py")]
    imported = {name for tree in trees for name in imported_packages(tree)}
    outside = imported - set(sys.stdlib_module_names) - {"glowtrace"} - set(COMES_WITH)
    assert {"numpy", "nicegui"} <= outside
    providers = packages_distributions()
    undeclared = {
        name
        for name in outside
        if not {distribution_name(one) for one in providers.get(name, [])} & declared
    }
    assert undeclared == set(), "add it to pyproject.toml, then: python3 tasks.py lock"


def imported_packages(tree: ast.Module) -> set[str]:
    nodes = list(ast.walk(tree))
    plain = [alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names]
    from_names = [n.module for n in nodes if isinstance(n, ast.ImportFrom) and n.module]
    return {name.split(".")[0] for name in plain + from_names}


def distribution_name(requirement: str) -> str:
    return re.split(r"[\[<>=!~; ]", requirement)[0].lower().replace("_", "-")


def test_lock_files_hold_every_dependency_of_the_project():
    pyproject = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    groups = pyproject["dependency-groups"]
    extras = pyproject["project"]["optional-dependencies"]
    complete = pyproject["project"]["dependencies"] + extras["clips"] + extras["photographs"]
    wanted = {"run": complete + groups["build"]}
    wanted["dev"] = wanted["run"] + groups["dev"]
    wanted["bench"] = wanted["dev"] + groups["bench"]
    for kind, requirements in wanted.items():
        locked = (ROOT / "requirements" / f"{kind}.txt").read_text("utf-8")
        names = set(re.findall(r"^([a-z0-9][a-z0-9._-]*)(?:\[.*?\])?==", locked, re.MULTILINE))
        asked = {distribution_name(text) for text in requirements}
        assert asked - names == set()
