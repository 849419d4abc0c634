"""The house keeps its shape: imports run downwards, heavy libraries stay asleep until they are needed."""

from __future__ import annotations

import ast
import importlib
import re
import shutil
import subprocess
import sys
import tomllib
from collections import Counter
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "analyser"

#: What every room may know.
FOR_ALL = {"errors", "frozen"}
#: Each room, with the rooms it may know besides.
MAY_KNOW = {
    "earth": set(),
    "rules": {"earth"},
    "holds": {"earth", "rules"},
    "logs": {"earth"},
    "inspection": {"earth", "logs"},
    "motion": {"earth", "logs"},
    "circuits": {"earth", "holds", "logs", "motion"},
    "grading": {"earth", "rules", "holds", "logs", "motion", "circuits", "schema"},
    "airspace": {"earth", "rules", "holds", "logs", "motion", "circuits", "schema"},
    "schema": {"earth"},
    "debrief": {"earth", "rules", "holds", "logs", "motion", "circuits", "grading", "airspace"},
    "document": {
        "earth",
        "rules",
        "holds",
        "logs",
        "motion",
        "circuits",
        "grading",
        "airspace",
        "debrief",
        "schema",
    },
    "user_data": set(),
    "logbook": {"earth", "rules", "holds", "schema", "user_data", "whole_files"},
    "whole_files": set(),
    "summary": {"grading", "schema"},
    "collection": {
        *("earth", "rules", "holds", "logs", "circuits", "inspection", "debrief"),
        *("user_data", "whole_files"),
    },
    "exports": {"earth", "rules", "logs", "circuits", "collection", "schema", "whole_files"},
    "pages": {
        *("earth", "rules", "holds", "logs", "circuits", "grading", "debrief", "schema"),
        *("logbook", "summary", "whole_files"),
    },
    "brief": {"earth", "rules", "holds", "airspace", "collection", "pages", "whole_files"},
    "work": {
        *("earth", "rules", "holds", "logs", "circuits", "airspace", "debrief", "document", "schema"),
        *("collection", "exports", "logbook", "pages", "summary"),
        *("process_settings", "user_data", "whole_files"),
    },
    "picture_files": {
        *("earth", "rules", "holds", "logs", "document", "schema"),
        *("logbook", "work", "whole_files"),
    },
    "commands": {
        *("rules", "logs", "circuits", "inspection"),
        *(
            "brief",
            "collection",
            "exports",
            "logbook",
            "pages",
            "picture_files",
            "summary",
            "work",
            "whole_files",
        ),
    },
    "process_settings": set(),
    "cli": {"commands", "process_settings"},
    "__main__": {"cli"},
    "__init__": set(),
    "errors": set(),
    "frozen": set(),
}
#: Libraries that only one room may import.
ONLY_IN = {
    # For pictures to take away; the pages still use its paths and scales.
    "matplotlib": {"picture_files"},
    "typer": {"cli", "commands"},
    "sqlalchemy": {"logbook"},
    "alembic": {"logbook"},
}


def _room(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@cache
def _nodes(path: Path) -> list[ast.AST]:
    return list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


def _imports(path: Path) -> set[str]:
    found: set[str] = set()
    for node in _nodes(path):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


MODULES = sorted(PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_run_downwards(path: Path) -> None:
    room = _room(path)
    for name in _imports(path):
        parts = name.split(".")
        if parts[0] == "analyser" and len(parts) > 1:
            assert parts[1] in MAY_KNOW[room] | FOR_ALL | {room}, f"{room} must not know {name}"
        allowed = ONLY_IN.get(parts[0])
        assert allowed is None or room in allowed, f"{name} is imported outside {allowed}"


def test_every_room_is_on_the_plan() -> None:
    rooms = {_room(path) for path in MODULES}
    assert rooms == set(MAY_KNOW), "a new room belongs on this plan, and on the one in DEVELOPERS.md"
    table = _guide("The house").partition("| room |")[2].partition("\n\n")[0]
    shown = set(
        re.findall(
            r"`(?:analyser/)?(\w+)(?:/|\.py)`", "".join(row.split("|")[1] for row in table.splitlines()[2:])
        )
    )
    assert shown == rooms - {"__init__", "__main__"}


def test_the_packages_that_were_agreed_on_are_installed_and_used() -> None:
    """What users asked the program to be built on is no matter of this or that test."""
    asked = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["dependencies"]
    installed = {re.match(r"[a-z]+", line)[0] for line in asked}
    imported = {name.split(".")[0] for path in PACKAGE.rglob("*.py") for name in _imports(path)}
    for package in ("pandas", "gpxpy", "scipy", "matplotlib", "typer"):
        assert package in installed
        assert package in imported


def test_nothing_else_lies_at_the_top() -> None:
    """What is kept at the top level was agreed on; a file left behind by a check is none of it."""
    git = shutil.which("git")
    if git is None or not (ROOT / ".git").exists():
        pytest.skip("no checkout: what is kept and what was only made here cannot be told apart")
    # Whoever owns the checkout: nothing is done but listing.
    asked = [git, "-c", "safe.directory=*", "ls-files"]
    kept = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, check=True).stdout.splitlines()
    top = {path.split("/")[0] for path in kept if not path.startswith(".")}
    rooms = {"analyser", "tests", "sample_logs", "reports"}
    assert top <= {"README.md", "DEVELOPERS.md", "pyproject.toml"} | rooms


def test_the_plan_is_one_of_floors() -> None:
    """No room may know one that may know it, by whatever way round."""
    list(TopologicalSorter(MAY_KNOW).static_order())


def _knows(path: Path, names: dict[str, Path]) -> set[str]:
    """Return the package's modules that a module imports, also those that are named from a package."""
    known: set[str] = set()
    for node in _nodes(path):
        if isinstance(node, ast.ImportFrom) and node.module:
            known |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        elif isinstance(node, ast.Import):
            known |= {alias.name for alias in node.names}
    return known & set(names)


def test_no_modules_import_each_other_in_a_circle() -> None:
    """Also not for types only: who needs the other's words has them in the wrong place."""
    names = {
        ".".join(path.relative_to(ROOT).with_suffix("").parts): path
        for path in MODULES
        if path.name != "__init__.py"
    }
    knows = {name: _knows(path, names) for name, path in names.items()}
    try:
        list(TopologicalSorter(knows).static_order())
    except CycleError as circle:
        pytest.fail(" → ".join(circle.args[1]))


def test_one_name_means_one_thing() -> None:
    """No two modules and no two public classes share a name: whoever reads one must not take it for the other.

    A module of ``commands`` may be called as what it calls.
    """
    found: dict[str, Counter[str]] = {"modules": Counter(), "classes": Counter()}
    for path in MODULES:
        if path.parent.name not in ("commands", "versions") and not path.stem.startswith("__"):
            found["modules"][path.stem] += 1
        for node in _nodes(path):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found["classes"][node.name] += 1
    for kind, names in found.items():
        twice = {name for name, times in names.items() if times > 1}
        assert twice == set(), f"{kind} that have a namesake: choose another name"


HEAVY = (
    "pandas",
    "scipy",
    "matplotlib",
    "pyproj",
    "pydantic",
    "gpxpy",
    "jinja2",
    "sqlalchemy",
    "shapely",
    "numpy",
)


def test_help_leaves_heavy_libraries_asleep() -> None:
    code = (
        "import sys\n"
        "sys.argv = ['analyser', '--help']\n"
        "from analyser.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print('AWAKE', [m for m in {HEAVY!r} if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert "AWAKE []" in run.stdout, run.stdout
    assert "debrief" in run.stdout


def test_geodesics_come_alone_and_are_the_librarys_own() -> None:
    """What else the library has costs more than reading a log; who imports it later gets all of it."""
    code = (
        "import sys\nfrom analyser.earth.plane import wgs84\nalone = wgs84().inv(8.0, 47.0, 9.0, 48.0)\n"
        "print({'pyproj.crs', 'ssl'} & set(sys.modules))\nimport pyproj\n"
        "print(alone == pyproj.Geod(ellps='WGS84').inv(8.0, 47.0, 9.0, 48.0), hasattr(pyproj, 'CRS'))\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert run.stdout.split("\n")[:2] == ["set()", "True True"]


def test_help_starts_in_a_fraction_of_what_the_libraries_take() -> None:
    """A ratio within one run, for the machine's own speed must not matter: --help against its heavy imports."""
    import_all = "import pandas, scipy.optimize, matplotlib.figure, pydantic, jinja2, sqlalchemy"
    asleep = min(_seconds("from analyser.cli import app") for _ in range(2))
    awake = min(_seconds(import_all) for _ in range(2))
    assert asleep < 0.5 * awake


def _seconds(code: str) -> float:
    timed = f"import time\nbegun = time.process_time()\n{code}\nprint(time.process_time() - begun)"
    run = subprocess.run([sys.executable, "-c", timed], capture_output=True, text=True, check=True, cwd=ROOT)
    return float(run.stdout)


def _guide(part: str = "") -> str:
    """Return the guide, or one part of it."""
    whole = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return whole.partition(f"\n## {part}\n")[2].partition("\n## ")[0] if part else whole


def test_the_guide_names_files_that_are_there() -> None:
    """A guide that leads a newcomer to a file of last year is worse than none."""
    words = _guide().split("`")[1::2]
    files = [
        word for word in words if "/" in word and " " not in word and word.endswith((".py", ".toml", ".md"))
    ]
    assert len(files) > 20
    assert [word for word in files if not any([*ROOT.glob(word), *PACKAGE.glob(word)])] == []
    modules = [word for word in words if re.fullmatch(r"\w+\.py", word)]
    assert len(modules) > 5 and [word for word in modules if not any(PACKAGE.rglob(word))] == []


def test_the_guide_names_names_that_are_there() -> None:
    """Of the glossary's quantities and of what a newcomer is to change: functions, classes, tables."""
    words = {
        word for word in _guide().split("`")[1::2] if re.fullmatch(r"_?[A-Za-z]+_\w+|[A-Z]\w*[a-z]\w*", word)
    }
    assert len(words) > 30
    code = "\n".join(path.read_text(encoding="utf-8") for path in [*MODULES, *PACKAGE.rglob("*.toml")])
    assert {word for word in words if word not in code} == set()


def test_the_guide_names_commands_that_are_there() -> None:
    modules = re.findall(r"`python -m (tests[.\w]*)", _guide("How to check"))
    assert len(modules) >= 10
    for module in modules:
        place = ROOT.joinpath(*module.split("."))
        assert place.with_suffix(".py").exists() or (place / "__main__.py").exists(), module


@pytest.mark.parametrize(
    "name",
    [
        "circuits.thresholds",
        "logs.log_thresholds",
        "motion.motion_thresholds",
        "grading.grading_thresholds",
        "logbook.logbook_thresholds",
    ],
)
def test_every_threshold_is_read_somewhere(name: str) -> None:
    read = {
        (node.value.id, node.attr)
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)
    }
    module = vars(importlib.import_module(f"analyser.{name}"))
    table = {of: vars(one) for of, one in module.items() if of.isupper() and isinstance(one, type)}
    assert table
    assert not {(of, row) for of, rows in table.items() for row in rows if row[0] != "_"} - read


def test_the_guide_answers_a_newcomers_questions() -> None:
    """Each question is answered by one file, and what to look for stands in it."""
    table = _guide("Where is …").splitlines()
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in table if "?" in line]
    assert len(rows) >= 10
    for question, file, word in rows:
        assert question.endswith("?")
        text = (PACKAGE / file.strip("`")).read_text(encoding="utf-8")
        assert word.strip("`") in text, f"{question} {file} does not say {word}"
