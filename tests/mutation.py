"""How much of the code the tests hold: ``python -m tests.mutation [--rooms motion circuits] [--each 26] [--seed 1]``.

Makes one small change to the code at a time (a comparison, a sign, a constant, a dropped statement), runs the tests
that run the changed line, and counts how many changes make one of them fail. Survivors are listed: each is a line that
no test holds, or a change that makes no difference. Works on a copy; the checkout is not touched. Each change is tested
in a process forked from this one, which has loaded the libraries for all of them.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib
import json
import math
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Collection, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import islice
from pathlib import Path
from typing import Self
from xml.etree import ElementTree

import pytest

ROOT = Path(__file__).parent.parent
#: A change may make the tests hang: longer than this, seconds, counts as noticed.
LONGEST_S = 240.0
#: It may also make them fill the memory: more than this, bytes, counts as noticed, before the machine runs out of it.
MOST_BYTES = 6e9
#: Tests for one change may at first take this long together, seconds as the map was made: half of it those that run the
#: fewest lines, as they know most of each, half of it evenly drawn from the others, up to whole flights held to their
#: truth. Where none of them fails, all others of the room are run that run it.
MOST_S = 60.0
#: Share of the changes that the tests of a room have to notice.
ASKED = 0.8
_COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
_ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
}  # fmt: skip
_TOML_NUMBER = re.compile(r"(?<![\w.\"-])(\d+(?:\.\d+)?)(?![\w.\"-])")


@dataclass(frozen=True)
class Change:
    """One change to one file."""

    path: str
    line: int
    what: str
    text: str
    #: First and last line of the statement that the change is in, and the name that it gives a value to.
    statement: int
    end: int
    name: str | None
    #: Whether it is in force as the module is imported: a constant, or a default. Which test imports it says nothing.
    at_import: bool = True


def changes(path: Path) -> list[Callable[[], Change]]:
    """Return every change that can be made to a file, each made only when called for: a file has hundreds."""
    source, name = path.read_text(encoding="utf-8"), str(path.relative_to(ROOT))
    if path.suffix == ".toml":
        return [partial(lambda change: change, change) for change in _toml_changes(source, name)]
    tree = ast.parse(source)
    return [partial(_python_change, tree, name, place) for place in range(sum(1 for _ in _places(tree)))]


def _python_change(tree: ast.Module, name: str, place: int) -> Change:
    changed = copy.deepcopy(tree)
    node, owner, field, index = next(islice(_places(changed), place, None))
    *around, statement = _statements(changed, node)
    before = ast.unparse(node)
    after = _changed(node)
    if index is None:
        setattr(owner, field, after)
    else:
        getattr(owner, field)[index] = after
    what = f"{before[:60]}  →  {ast.unparse(ast.fix_missing_locations(after))[:60]}"
    text = ast.unparse(ast.fix_missing_locations(changed))
    end = statement.end_lineno or statement.lineno
    at_import = not any(isinstance(one, ast.FunctionDef) for one in around)
    return Change(name, node.lineno, what, text, statement.lineno, end, _given_to(statement), at_import)


def _statements(tree: ast.AST, node: ast.AST) -> list[ast.stmt]:
    """Return the statements around a node, the innermost last."""
    return [
        one for one in ast.walk(tree) if isinstance(one, ast.stmt) and any(n is node for n in ast.walk(one))
    ]


def _given_to(statement: ast.stmt) -> str | None:
    match statement:
        case ast.AnnAssign(target=ast.Name(name)) | ast.Assign(targets=[ast.Name(name)]):
            return name
        case ast.FunctionDef(name=name):
            return name
    return None


def _toml_changes(source: str, name: str) -> Iterator[Change]:
    lines = source.splitlines()
    for number, line in enumerate(lines):
        key, equals, value = line.partition("=")
        value = value.split("#")[0]
        if not equals or "source" in key or '"' in value.split(",")[0]:
            continue
        found = _TOML_NUMBER.search(value)
        if found:
            other = f"{float(found[1]) * 1.3 + 0.1:.6g}"
            text = f"{key}={value[: found.start()]}{other}{value[found.end() :]}"
            yield Change(name, number + 1, f"{line.strip()[:60]}  →  {other}",
                         "\n".join([*lines[:number], text, *lines[number + 1 :], ""]),
                         number + 1, number + 1, key.strip())  # fmt: skip


def _places(tree: ast.AST) -> Iterator[tuple[ast.expr | ast.stmt, ast.AST, str, int | None]]:
    """Yield each node that can be changed, with where it hangs; annotations and words are left alone.

    So is which end of a sequence is taken, ``[0]`` or ``[-1]``, how a line of a drawing is dashed, and what an
    ``assert`` says, which tells a reader and the type checker what cannot be otherwise.
    """
    left_alone = {
        id(one.iter) for one in ast.walk(tree) if isinstance(one, ast.For) and ast.unparse(one.target) == "_"
    }
    left_alone |= {
        id(one.slice)
        for one in ast.walk(tree)
        if isinstance(one, ast.Subscript) and isinstance(one.slice, ast.UnaryOp)
    }
    left_alone |= {
        id(word)
        for one in ast.walk(tree)
        if isinstance(one, ast.Call) and isinstance(one.func, ast.Attribute) and one.func.attr == "line"
        for word in one.args
        if isinstance(word, ast.Tuple)
    }
    for said in (one for one in ast.walk(tree) if isinstance(one, ast.Assert)):
        left_alone |= {id(one) for one in ast.walk(said)}
    for owner in ast.walk(tree):
        if id(owner) in left_alone:
            continue
        for field, value in ast.iter_fields(owner):
            if field in ("annotation", "returns", "decorator_list", "type_params", "slice"):
                continue
            for index, node in enumerate(value) if isinstance(value, list) else [(None, value)]:
                if isinstance(node, ast.expr | ast.stmt) and _can_change(node, owner):
                    yield node, owner, field, index


def _can_change(node: ast.AST, owner: ast.AST) -> bool:
    if isinstance(owner, ast.Subscript | ast.JoinedStr | ast.FormattedValue) or _is_no_matter(node, owner):
        return False
    if isinstance(node, ast.Compare):
        return type(node.ops[0]) in _COMPARISONS
    if isinstance(node, ast.BinOp):
        words = any(isinstance(n, ast.Constant) and isinstance(n.value, str) for n in ast.walk(node))
        return type(node.op) in _ARITHMETIC and not words
    if isinstance(node, ast.Constant):
        return isinstance(node.value, int | float | bool) and not isinstance(owner, ast.keyword)
    if isinstance(node, ast.Expr):
        return isinstance(node.value, ast.Call)
    return isinstance(node, ast.AugAssign | ast.BoolOp) or (
        isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not)
    )


def _is_no_matter(node: ast.AST, owner: ast.AST) -> bool:
    """Tell whether another number there would make no difference that is meant to be seen.

    How thick a line is and how many points stand for a curve stand bare among the words of a call: of a line or an area
    on a canvas, or of `linspace`. How often a search goes on at most stands in ``for _ in range(…)``. A number below a
    hundred-thousandth guards against rounding or division by nothing.
    """
    if not isinstance(node, ast.Constant) or isinstance(node.value, bool):
        return False
    if isinstance(node.value, float) and 0.0 < abs(node.value) < 1e-5:
        return True
    match owner:
        case ast.Call(ast.Attribute(attr="line" | "area" | "linspace"), words):
            return any(word is node for word in words[2:])
    return False


def _changed(node: ast.AST) -> ast.AST:
    match node:
        case ast.Compare(left, [first, *others], right):
            after: ast.AST = ast.Compare(left, [_COMPARISONS[type(first)](), *others], right)
        case ast.BinOp(left, operator, right):
            after = ast.BinOp(left, _ARITHMETIC[type(operator)](), right)
        case ast.BoolOp(junction, values):
            after = ast.BoolOp(ast.And() if isinstance(junction, ast.Or) else ast.Or(), values)
        case ast.UnaryOp(_, operand):
            after = operand
        case ast.Constant(bool() as value):
            after = ast.Constant(not value)
        case ast.Constant(int() as value):
            after = ast.Constant(value + max(1, round(0.3 * value)))
        case ast.Constant(float() as value):
            after = ast.Constant(value * 1.3 + 0.1)
        case _:
            after = ast.Pass()
    return after


@dataclass(frozen=True)
class LinesRun:
    """Which tests run which line: file → line → numbers of tests; each test's name and seconds by its number.

    A line that is run as its module is imported, and so by no test, is listed with no test.
    """

    lines: dict[str, dict[int, list[int]]]
    tests: list[str]
    seconds: list[float]

    @classmethod
    def read(cls, file: Path) -> Self:
        """Take from a file what `write` put there."""
        kept = json.loads(file.read_text(encoding="utf-8"))
        lines = {
            name: {int(line): tests for line, tests in lines.items()} for name, lines in kept["lines"].items()
        }
        return cls(lines, kept["tests"], kept["seconds"])

    def write(self, file: Path) -> None:
        """Keep it in a file."""
        file.write_text(json.dumps(vars(self)), encoding="utf-8")

    @cached_property
    def width(self) -> list[int]:
        """Lines that each test runs."""
        width = [0] * len(self.tests)
        for lines in self.lines.values():
            for tests in lines.values():
                for test in tests:
                    width[test] += 1
        return width

    def chosen(self, tests: Iterable[int], own: Collection[int]) -> list[list[str]]:
        """Return the names of those of some tests that are run for one change, narrow ones first; then the rest.

        The rest are those of the room's ``own``, in lists that take so long each: what the others let pass counts as
        unnoticed only where they do as well.
        """
        left_s, narrow, wide = MOST_S / 2.0, list[int](), list[int]()
        for test in sorted(tests, key=lambda test: (self.width[test], test)):
            left_s -= self.seconds[test]
            (narrow if left_s >= 0.0 or not narrow else wide).append(test)
        every = max(1, math.ceil(sum(self.seconds[test] for test in wide) / (MOST_S / 2.0)))
        first = [*narrow, *wide[::every]]
        parts, took_s = [first], MOST_S
        for test in sorted((set(wide) & set(own)) - set(first)):
            if took_s >= MOST_S:
                parts.append([])
                took_s = 0.0
            parts[-1].append(test)
            took_s += self.seconds[test]
        return [[self.tests[test] for test in part] for part in parts]


def lines_run(copy_of: Path, workers: int) -> LinesRun:
    """Run all quick tests once and return which tests run which line of which file."""
    told, timed = copy_of / ".mutation.json", copy_of / ".mutation.xml"
    settings = copy_of / ".mutation.coveragerc"
    settings.write_text(f"[run]\ndata_file = {copy_of / '.mutation.coverage'}\nsource = analyser\n")
    subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n", str(workers), "--dist", "loadfile", "-m", "not slow",
         "-p", "no:cacheprovider", "--hypothesis-profile", "judging",
         f"--junitxml={timed}", "-o", "junit_family=xunit1",
         "--cov", f"--cov-config={settings}", "--cov-context=test", "--cov-report="],
        cwd=copy_of, env=_environment(copy_of), check=False, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    subprocess.run(
        [sys.executable, "-m", "coverage", "json", f"--rcfile={settings}", "--show-contexts", "-q",
         "-o", str(told)],
        cwd=copy_of, check=True,
    )  # fmt: skip
    seconds = {
        f"{case.get('file')}::{case.get('name')}": float(case.get("time", 0.0))
        for case in ElementTree.parse(timed).iter("testcase")
    }
    tests = list(seconds)
    number = {test: place for place, test in enumerate(tests)}
    files = json.loads(told.read_text())["files"]
    lines = {
        name: {
            int(line): sorted({number[c] for c in (one.rpartition("|")[0] for one in run) if c in number})
            for line, run in file["contexts"].items()
        }
        for name, file in files.items()
    }
    return LinesRun(lines, tests, list(seconds.values()))


def _environment(folder: Path) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(folder), "PYTHONPYCACHEPREFIX": str(folder / ".compiled"),
            "ANALYSER_MUTATIONS": "20", "OMP_NUM_THREADS": "1"}  # fmt: skip


def is_noticed(change: Change, copy_of: Path, tests: list[str]) -> bool:
    """Make a change in the copy, run the tests, take it back; tell whether one failed."""
    target, said = copy_of / change.path, copy_of / ".said"
    before = target.read_text(encoding="utf-8")
    _write(target, change.text)
    child = os.fork()
    if child == 0:
        os._exit(_run_tests(copy_of, tests, said))
    try:
        status = _ended(child)
    finally:
        _write(target, before)
    if status is None:
        return True
    text = said.read_text(encoding="utf-8", errors="replace")
    # Where the change breaks the import of the program or of a test module, nothing can be collected: noticed too.
    broken = re.search(r"^ERROR tests/\S+\.py - ", text, re.MULTILINE)
    unloaded = "while loading conftest" in text or broken is not None
    if status not in (0, 1, 2) and not unloaded:
        raise RuntimeError(f"the tests could not be run: pytest ended with {status} and said {text[-500:]}")
    return status != 0


def _write(target: Path, text: str) -> None:
    """Write a module with a time of its own: what was compiled of another text must not be taken for it."""
    later_s = target.stat().st_mtime + 2.0
    target.write_text(text, encoding="utf-8")
    os.utime(target, (later_s, later_s))


def _run_tests(copy_of: Path, tests: list[str], said: Path) -> int:
    """Run tests in this forked process as if it had been started in the copy."""
    try:
        os.setsid()
        to = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(to, 1)
        os.dup2(to, 2)
        for name in [one for one in sys.modules if one.split(".")[0] in ("analyser", "tests")]:
            del sys.modules[name]
        os.environ.update(_environment(copy_of))
        os.chdir(copy_of)
        sys.path[:] = [str(copy_of), *(one for one in sys.path if Path(one or ".").resolve() != ROOT)]
        sys.dont_write_bytecode, sys.pycache_prefix = False, str(copy_of / ".compiled")
        words = ["-q", "-x", "-n", "0", "-p", "no:cacheprovider", "-m", "not slow or slow"]
        status = int(pytest.main([*words, "--hypothesis-profile", "judging", *tests]))
        sys.stdout.flush()
    except BaseException:
        traceback.print_exc()
        sys.stderr.flush()
        return 99
    return status


def _ended(child: int) -> int | None:
    """Wait for a process; return its exit status, None where it took too long or too much memory and was ended."""
    until = time.monotonic() + LONGEST_S
    while time.monotonic() < until and _resident_bytes(child) < MOST_BYTES:
        found, status = os.waitpid(child, os.WNOHANG)
        if found:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def _resident_bytes(child: int) -> float:
    """Return how much memory a process takes; nothing where the system does not tell, or it has ended."""
    try:
        pages = Path(f"/proc/{child}/statm").read_text(encoding="ascii").split()[1]
        return float(pages) * resource.getpagesize()
    except (OSError, IndexError):
        return 0.0


def _load_libraries() -> None:
    """Load once what nearly every test needs; never the program itself, nor a test."""
    os.environ["OMP_NUM_THREADS"] = "1"
    for name in ("numpy", "pandas", "scipy.optimize", "scipy.linalg", "pyproj", "shapely", "pydantic", "jinja2",
                 "sqlalchemy", "typer", "jsonschema", "xml.etree.ElementTree"):  # fmt: skip
        importlib.import_module(name)


def _tests_of(change: Change, run: LinesRun) -> list[list[str]]:
    """Return the tests that run a line, those to begin with first; where none is known, the quick tests of the room.

    A constant, a default or a number in a data file is there before any test begins: then those count that run a line
    of the function that it is a default of, or where its name stands, and those of the room that run anything of its
    module: a default is in force also where nobody writes its name.
    """
    lines = run.lines.get(change.path, {})
    room = Path(change.path).parts[1].removesuffix(".py")
    own = {place for place, test in enumerate(run.tests) if test.startswith(f"tests/test_{room}_")}
    known: set[int] = set()
    if not change.at_import:
        known |= set(lines.get(change.line) or lines.get(change.statement) or ())
    if not known:
        body = range(change.statement, change.end + 1)
        known |= {test for line in body for test in lines.get(line, ())}
        if len(body) == 1 or not known:
            known |= _tests_of_name(change, run)
        known |= own & {test for tests in lines.values() for test in tests}
    if change.path.endswith(".toml"):
        # What reads a data file by itself runs no line of the program; and no line has a name with blanks in it.
        known = (known or own) | {place for place in own if not run.width[place]}
    return run.chosen(known or own or range(len(run.tests)), own)


def _tests_of_name(change: Change, run: LinesRun) -> set[int]:
    if change.name is None:
        return set()
    word = re.compile(rf"\b{re.escape(change.name)}\b")
    own = change.path if change.name.startswith("_") else None
    return {
        test
        for path, lines in run.lines.items()
        if own in (None, path) and (ROOT / path).exists()
        for number, text in enumerate((ROOT / path).read_text(encoding="utf-8").splitlines(), 1)
        if word.search(text)
        for test in lines.get(number, ())
    }


def _copied() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="mutation-"))
    names = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    for name in names.splitlines():
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(ROOT / name, target)
    return folder


def main() -> int:
    """Change, test, count."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--rooms", nargs="*")
    parser.add_argument("--each", type=int, default=26)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument(
        "--map", type=Path, help="file that keeps which test runs which line; made if missing, else read"
    )
    asked = parser.parse_args()
    rooms = asked.rooms or sorted(
        p.name for p in (ROOT / "analyser").iterdir() if p.is_dir() and any(p.glob("*.py"))
    )
    folders = [_copied() for _ in range(asked.workers)]
    if asked.map and asked.map.exists():
        run = LinesRun.read(asked.map)
    else:
        run = lines_run(folders[0], asked.workers)
        if asked.map:
            run.write(asked.map)
    met = True
    _load_libraries()
    try:
        for room in rooms:
            met &= _room(room, asked.each, asked.seed, folders, run)
    finally:
        for folder in folders:
            shutil.rmtree(folder, ignore_errors=True)
    return 0 if met else 1


def _room(
    room: str,
    each: int,
    seed: int,
    folders: list[Path],
    run: LinesRun,
) -> bool:
    draw = random.Random(f"{seed} {room}")
    files = sorted(p for p in (ROOT / "analyser" / room).rglob("*") if p.suffix in (".py", ".toml"))
    candidates = [change for path in files for change in changes(path)]
    chosen = [make() for make in draw.sample(candidates, min(each, len(candidates)))]
    free = list(folders)

    def try_one(change: Change) -> bool:
        folder = free.pop()
        try:
            return any(is_noticed(change, folder, tests) for tests in _tests_of(change, run))
        finally:
            free.append(folder)

    with ThreadPoolExecutor(len(folders)) as pool:
        noticed = list(pool.map(try_one, chosen))
    print(f"{room}: {sum(noticed)} of {len(chosen)} changes noticed")
    for change, seen in zip(chosen, noticed, strict=True):
        if not seen:
            print(f"   survived: {change.path}:{change.line}  {change.what}")
    sys.stdout.flush()
    return sum(noticed) >= ASKED * len(chosen)


if __name__ == "__main__":
    raise SystemExit(main())
