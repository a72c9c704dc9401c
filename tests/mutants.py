"""Which small faults the tests of a room let through: mutants of its modules, made and tried one at a time.

    python tests/mutants.py --module companion/music/scales.py --sample 10 --seed 1
    python tests/mutants.py --near --sample 200     # only by the test files near each module; in an hour
    python tests/mutants.py --sample 200            # of the whole package; takes some hours
    python tests/mutants.py --sample 200 --reached /tmp/reached   # less: of a room, the tests that reach the change

A mutant is one change of the source: a whole number one higher or lower, another number a fifth larger or smaller, a
comparison flipped or its boundary moved (each of a chain by itself), ``and`` for ``or``, a condition denied (of ``if``,
``while`` and ``… if … else …``) or its ``not`` taken away, + for -, * for /, or None returned where the annotation
promises something else. Docstrings, annotations, decorators and the messages of errors stay, and so does what no test
could see or no musician hear: the exact size of a tolerance for sums of fractions (:func:`is_tolerance`), a boundary
that is off by such a tolerance anyway, so that nothing lies on it, and whether a number is rounded to a millionth or to
a tenth of that. That there is a tolerance, and to which side, is tried. Modules are drawn by their number of lines, and
in each its mutants alike.

The change is made in a temporary copy of the checkout. The module's own test file runs first, then those
of its room and of the references that name it, then the room's folder, but for tests that need a port, play in real
time or are slow; a mutant that none sees has survived. With ``--reached`` a room's tests are run once as they stand and
what each of them calls is kept in that folder (:mod:`reached`); from then on a mutant meets only those of its room's
tests that call the function it is in, or for a constant one that names it. Modules whose
own test file has such tests are left out, and named, unless ``--real-time`` runs those too. A mutant that keeps the
processor busy for several times as long as the tests need is counted by itself, neither killed nor survived; so is a
run that takes too long without that: on a busy machine it may say nothing.
"""

from __future__ import annotations

import argparse
import ast
import compileall
import contextlib
import importlib
import json
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest
from reached import ReachedFunctions, reaching

CHECKOUT = Path(__file__).resolve().parents[1]
SWAPS: dict[type[ast.AST], str] = {
    ast.Lt: ">=", ast.LtE: ">", ast.Gt: "<=", ast.GtE: "<", ast.Eq: "!=", ast.NotEq: "==",
    ast.Is: "is not", ast.IsNot: "is", ast.In: "not in", ast.NotIn: "in",
    ast.And: "or", ast.Or: "and", ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*",
}  # fmt: skip
WORDS: dict[type[ast.AST], str] = {
    ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=",
    ast.Is: "is", ast.IsNot: "is not", ast.In: "in", ast.NotIn: "not in",
}  # fmt: skip
BOUNDARIES: dict[type[ast.AST], str] = {ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">"}
SKIPPED = {"annotation", "returns", "decorator_list", "exc", "msg"}
"""Fields of a node that hold annotations, decorators and messages."""
WAITING = 8
"""Times as long as its processor time a run may take: on a busy machine it gets a share of a core."""
PATIENCE, LEAST = 4, 20
"""A mutant's run is ended after so many times the processor time of the tests as they stand; the least, in seconds."""
SHARES = "* 1.2", "* 0.8"
"""How a number that isn't whole changes: a doubling is easily seen."""
RECORDING = 20
"""Times as long as a mutant's tests a whole room may take while it is noted what they reach."""
TOLERANCE = 1e-3
"""Beats or seconds: a number so small stands for what sums of fractions are off by."""
FINE = 6
"""Decimals from which one more or less is no musical difference."""
LIBRARIES = "hypothesis", "numpy", "mido", "msgspec", "tomlkit", "httpx", "starlette.testclient", "anyio.pytest_plugin"
"""Imported once for all runs."""
OUTSIDE = "mark.jack", "mark.real_time"
"""What a test file has in it some of whose tests need a port or play in real time."""


Reached = dict[str, tuple[float, list[str]]]
"""Of each test its seconds, and the functions it reaches."""


@dataclass(frozen=True)
class Mutant:
    """One change: UTF-8 offsets of the span in the module, and what stands there instead."""

    module: Path
    line: int
    start: int
    end: int
    before: str
    after: str
    function: str = ""
    """The qualified name of the function it is in; empty outside of all."""
    names: tuple[str, ...] = ()
    """Outside of all functions, what the statement or its class is called."""


class Place(NamedTuple):
    """Where in a module a mutant is, as in :class:`Mutant`."""

    function: str = ""
    names: tuple[str, ...] = ()
    prefix: str = ""


def place_in(node: ast.AST, at: Place) -> Place:
    """Where what is in a node is, given where the node is."""
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        return Place(at.prefix + node.name, (), f"{at.prefix}{node.name}.<locals>.")
    if isinstance(node, ast.ClassDef):
        return at._replace(names=(*at.names, node.name), prefix=f"{at.prefix}{node.name}.")
    if isinstance(node, ast.Assign | ast.AnnAssign) and not at.function:
        targets = node.targets if isinstance(node, ast.Assign) else [node.target]
        return at._replace(names=(*at.names, *(n.id for t in targets for n in ast.walk(t) if isinstance(n, ast.Name))))
    return at


def mentioned(node: ast.AST) -> set[str]:
    """The names and attributes in a piece of code."""
    found = {n.id for n in ast.walk(node) if isinstance(n, ast.Name)}
    return found | {n.attr for n in ast.walk(node) if isinstance(n, ast.Attribute)}


@cache
def whole_package() -> tuple[dict[str, set[str]], list[tuple[set[str], set[str]]]]:
    """What each function of the package mentions, and of each statement outside of all: what it names, and mentions."""
    functions: dict[str, set[str]] = {}
    constants: list[tuple[set[str], set[str]]] = []

    def visit(node: ast.AST, module: str, at: Place) -> None:
        at = place_in(node, at)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            functions[f"{module}:{at.function}"] = mentioned(node)
        elif isinstance(node, ast.Assign | ast.AnnAssign) and not at.function:
            constants.append((set(at.names), mentioned(node)))
        for child in ast.iter_child_nodes(node):
            visit(child, module, at)

    for path in sorted((CHECKOUT / "companion").rglob("*.py")):
        visit(ast.parse(path.read_bytes()), str(path.relative_to(CHECKOUT)), Place())
    return functions, constants


def functions_of(mutant: Mutant) -> set[str]:
    """The functions that a test must call to see a mutant: the one it is in, else those that mention what is changed.

    What is made of it outside of all functions counts as well. Where nothing mentions it: those of its module.
    """
    if mutant.function:
        return {f"{mutant.module}:{mutant.function}"}
    functions, constants = whole_package()
    names, before = set(mutant.names), 0
    while len(names) > before:
        before = len(names)
        names |= {name for named, mentions in constants if mentions & names for name in named}
    found = {function for function, mentions in functions.items() if mentions & names}
    return found or {function for function in functions if function.startswith(f"{mutant.module}:")}


def is_tolerance(node: ast.AST) -> bool:
    """Whether a node is a number, or the name of one, that stands for what sums of fractions are off by."""
    if isinstance(node, ast.Name):
        return node.id == "TINY"
    return isinstance(node, ast.Constant) and isinstance(node.value, float) and 0 < node.value <= TOLERANCE


def is_off_the_mark(node: ast.Compare) -> bool:
    """Whether a side of a comparison is a tolerance, or has one added or subtracted: no value lies just on it."""
    sides = [node.left, *node.comparators]
    sums = [s for s in sides if isinstance(s, ast.BinOp) and isinstance(s.op, ast.Add | ast.Sub)]
    return any(map(is_tolerance, [*sides, *(part for both in sums for part in (both.left, both.right))]))


def fine_digits(node: ast.AST) -> ast.AST | None:
    """The number of decimals of a call of ``round``, where it is so high that one more or less is none the worse."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "round":
        digits = node.args[1] if len(node.args) == 2 else None
        if isinstance(digits, ast.Constant) and isinstance(digits.value, int) and digits.value >= FINE:
            return digits
    return None


def processor_time() -> float:
    """Of the tests that have been run, in seconds."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def mutants(module: Path) -> list[Mutant]:
    """Every mutant of a module, given by its path from the checkout."""
    source = (CHECKOUT / module).read_bytes()
    starts = [0]
    for row in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(row))

    def changed(node: ast.expr, after: str, at: Place) -> Mutant:
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
        return Mutant(module, node.lineno, start, end, source[start:end].decode(), after, at.function, at.names)

    def visit(node: ast.AST, promised: bool, at: Place) -> Iterator[Mutant]:
        at = place_in(node, at)
        if isinstance(node, ast.FunctionDef):
            promised = node.returns is not None and "None" not in ast.unparse(node.returns)
        if isinstance(node, ast.JoinedStr):
            return
        if is_tolerance(node):
            return
        if isinstance(node, ast.Constant) and type(node.value) in (int, float):
            ways = ("+ 1", "- 1") if type(node.value) is int else SHARES if node.value else ("+ 0.2", "- 0.2")
            yield from (changed(node, f"({node.value!r} {way})", at) for way in ways)
        elif isinstance(node, ast.Compare):
            sides = [ast.unparse(side) for side in (node.left, *node.comparators)]
            words = [WORDS[type(op)] for op in node.ops]
            for n, op in enumerate(node.ops):
                boundary = None if is_off_the_mark(node) else BOUNDARIES.get(type(op))
                for other in (SWAPS[type(op)], boundary):
                    if other is not None:
                        told = [*words[:n], other, *words[n + 1 :]]
                        rest = " ".join(f"{word} {side}" for word, side in zip(told, sides[1:], strict=True))
                        yield changed(node, f"({sides[0]} {rest})", at)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield changed(node, f"({ast.unparse(node.operand)})", at)
        elif isinstance(node, ast.BoolOp):
            word = f" {SWAPS[type(node.op)]} "
            yield changed(node, "(" + word.join(f"({ast.unparse(v)})" for v in node.values) + ")", at)
        elif isinstance(node, ast.BinOp) and type(node.op) in SWAPS:
            both = f"({ast.unparse(node.left)}) {SWAPS[type(node.op)]} ({ast.unparse(node.right)})"
            yield changed(node, f"({both})", at)
        elif isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            return
        elif isinstance(node, ast.If | ast.While | ast.IfExp) and not isinstance(node.test, ast.Compare | ast.UnaryOp):
            yield changed(node.test, f"(not ({ast.unparse(node.test)}))", at)
        elif isinstance(node, ast.Return) and node.value is not None and promised:
            yield changed(node.value, "None", at)
        for name, value in ast.iter_fields(node):
            if name not in SKIPPED:
                for child in value if isinstance(value, list) else [value]:
                    if isinstance(child, ast.AST) and child is not fine_digits(node):
                        yield from visit(child, promised, at)

    return list(visit(ast.parse(source), False, Place()))


def tests_of(module: Path, near: bool = False) -> list[list[Path]]:
    """What is run for a module, one after the other: its own test file, those near it, its room's folder.

    Near are those of the room and of the references that name it; where there are none, nor a test file of its own,
    those of its folder in the room, or those that name its package. ``near``: without the room, unless there is nothing
    else. Of a module that is in no room only its own.
    """
    inside = module.relative_to("companion")
    own = Path("tests") / inside.parent / f"test_{inside.name}"
    if len(inside.parts) == 1:
        return [[own]] if (CHECKOUT / own).exists() else []
    room = Path("tests") / inside.parts[0]
    dotted = ".".join(module.with_suffix("").parts)
    others = naming_it(room, dotted, own)
    folder = Path("tests") / inside.parent
    if not others and not (CHECKOUT / own).exists():
        in_folder = folder != room and (CHECKOUT / folder).is_dir()
        others = [folder] if in_folder else naming_it(room, dotted.rpartition(".")[0], own)
    if near:  # together: starting takes longer than many of them
        found = [path for path in (own, *others) if (CHECKOUT / path).exists()]
        return [found or [room]]
    wanted = [[own], others, [room]]
    return [some for some in wanted if some and (CHECKOUT / some[0]).exists()]


@cache
def naming_it(room: Path, dotted: str, own: Path) -> list[Path]:
    """The test files of a room, and of the references, that import a module or something of a package."""
    folders = [room, Path("tests/reference")]
    files = {path for folder in folders for path in (CHECKOUT / folder).rglob("test_*.py")} - {CHECKOUT / own}
    word = re.compile(rf"\b{re.escape(dotted)}\b")
    found = [path for path in sorted(files) if "benchmarks" not in path.parts and word.search(path.read_text())]
    return [path.relative_to(CHECKOUT) for path in found if len(dotted.split(".")) > 2]


def needs_ports(module: Path) -> bool:
    """Whether the module's own tests need a port or play in real time."""
    own = CHECKOUT / "tests" / module.relative_to("companion").parent / f"test_{module.name}"
    return own.exists() and any(word in own.read_text() for word in OUTSIDE)


def drawn(every: Mapping[Path, list[Mutant]], count: int, seed: int) -> list[Mutant]:
    """So many mutants, none of them twice: each of a module drawn by its number of lines, unless there are fewer."""
    draw = random.Random(seed)
    left = {module: draw.sample(some, len(some)) for module, some in every.items() if some}
    lines = {module: (CHECKOUT / module).read_bytes().count(b"\n") for module in left}
    chosen: list[Mutant] = []
    while left and len(chosen) < count:
        (module,) = draw.choices(list(left), [lines[module] for module in left])
        chosen.append(left[module].pop())
        if not left[module]:
            del left[module]
    return chosen


def outcome(
    copy: Path, tests: Sequence[Path | str], limit: float, real_time: bool = False, reached: Path | None = None
) -> str:
    """What these tests say in the copy: 'passed' or 'failed', 'endless' or 'late' where they don't come to an end.

    ``limit``: seconds of processor time, after which the run is ended ('endless'). Late is one that took too long
    without computing. ``real_time``: also those that need a port or play in real time.
    ``reached``: where to keep what each of them reaches.
    """
    words = ["-q" if reached else "-x", "-q", "-n0", "-p", "no:cacheprovider", "--assert=plain", "-m"]
    words += ["not slow" if real_time else "not jack and not real_time and not slow", *map(str, tests)]
    process = os.fork()
    if not process:
        os._exit(ran(copy, words, limit, reached))
    try:
        late = time.monotonic() + WAITING * limit
        while time.monotonic() < late:
            ended, status = os.waitpid(process, os.WNOHANG)
            if ended:
                code = os.waitstatus_to_exitcode(status)
                if code in (-signal.SIGXCPU, -signal.SIGKILL):
                    return "endless"
                return "passed" if code in (0, 5) else "failed"  # 5: there is no test without a port
            time.sleep(0.02)
        os.killpg(process, signal.SIGKILL)
        os.waitpid(process, 0)
        return "late"
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process, signal.SIGKILL)  # whatever its tests have started


def ran(copy: Path, words: list[str], limit: float, reached: Path | None = None) -> int:
    """What pytest says of the tests in the copy; in a process of its own, which has all that was imported before."""
    os.setsid()
    os.chdir(copy)
    nothing = os.open(os.devnull, os.O_RDWR)
    for stream in range(3):
        os.dup2(nothing, stream)
    resource.setrlimit(resource.RLIMIT_CPU, (int(limit), int(limit) + 5))
    os.environ |= {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1", "HYPOTHESIS_PROFILE": "ci"}
    sys.argv, sys.path[0] = ["pytest"], str(copy)
    try:
        if reached is None:
            return int(pytest.main(words))
        note = ReachedFunctions(copy)
        note.begin()
        said = int(pytest.main(words, [note]))
        reached.write_text(json.dumps(note.told()))
        return said
    except BaseException:
        return 1


def tests_by_reach(copy: Path, room: Path, folder: Path, limit: float) -> Reached:
    """Of each test of a room what it reaches, as it is kept in a folder; it is found out if it isn't there yet."""
    kept = folder.resolve() / f"{room.name}.json"
    if not kept.exists():
        folder.mkdir(parents=True, exist_ok=True)
        print(f"{room}: what its tests reach", file=sys.stderr)
        said = outcome(copy, [room], limit, reached=kept)
        if said != "passed":
            print(f"{room}: as they stand, its tests have {said}", file=sys.stderr)
    return dict(json.loads(kept.read_text())) if kept.exists() else {}


def tests_reaching(copy: Path, mutant: Mutant, folder: Path, limit: float) -> list[list[str]]:
    """What is run for a mutant, one after the other: the module's own test file, then what else can see the change.

    That is what calls its function (:func:`functions_of`) of the room's tests, the quickest first, and the references
    that name the module.
    """
    every = tests_of(mutant.module)
    own = [str(path) for path in every[0]]
    if len(every) == 1:
        return [own]
    room = every[-1][0]
    reached = reaching(tests_by_reach(copy, room, folder, limit), functions_of(mutant))
    others = [test for test in reached if not test.startswith(tuple(f"{path}::" for path in own))]
    others += [str(path) for path in every[1] if room not in path.parents and path != room]
    return [own, others] if others else [own]


def warm(copy: Path) -> None:
    """Spare each run what takes most of a short one: importing libraries, and compiling what is as it was."""
    with warnings.catch_warnings(action="ignore"):
        for name in LIBRARIES:
            with contextlib.suppress(ImportError):
                importlib.import_module(name)
    for folder in ("companion", "tests"):
        compileall.compile_dir(copy / folder, quiet=2)


def tried(
    copy: Path, mutant: Mutant, every: Sequence[Sequence[Path | str]], limits: Sequence[float], real_time: bool
) -> str:
    """What becomes of one mutant in the copy: 'survived', 'killed', 'endless' or 'late'; it is put back.

    ``limits``: of each of these tests, seconds of processor time.
    """
    path = copy / mutant.module
    source, stamp = path.read_bytes(), path.stat()
    try:
        path.write_bytes(source[: mutant.start] + mutant.after.encode() + source[mutant.end :])
        for tests, limit in zip(every, limits, strict=True):
            if (said := outcome(copy, tests, limit, real_time)) != "passed":
                return "killed" if said == "failed" else said
        return "survived"
    finally:
        path.write_bytes(source)
        os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))  # by which Python knows what it has compiled


def limit_of(copy: Path, tests: Sequence[Path | str], most: float, real_time: bool) -> float | None:
    """Seconds of processor time that these tests may take with a mutant; None where they fail without any."""
    before = processor_time()
    if outcome(copy, tests, most, real_time) != "passed":
        return None
    return max(LEAST, PATIENCE * (processor_time() - before))


def told(some: Sequence[Path | str]) -> str:
    """Some test files in a few words."""
    return str(some[0]) + (f" and {len(some) - 1} more" if len(some) > 1 else "")


def main() -> int:
    """Try a sample; 0 when all were killed, 1 when some survived."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--module", type=Path, action="append", help="from the checkout's top; may be repeated (all)")
    parser.add_argument("--sample", type=int, default=20, metavar="N", help="mutants to try (20)")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="the same seed, the same mutants (1)")
    parser.add_argument("--limit", type=float, default=300, metavar="SECONDS", help="of processor time (300)")
    parser.add_argument("--real-time", action="store_true", help="also tests that need a port or play in real time")
    parser.add_argument("--first", type=int, default=1, metavar="N", help="the number in the sample to begin with (1)")
    parser.add_argument("--trust", action="store_true", help="the tests pass as they stand, and needn't be tried so")
    parser.add_argument("--reached", type=Path, metavar="FOLDER", help="only tests that can see it, as is noted there")
    parser.add_argument("--all", action="store_true", help="tell of each mutant what became of it, killed or not")
    parser.add_argument("--near", action="store_true", help="only the test files near a module, not its room")
    asked = parser.parse_args()
    modules = asked.module or [p.relative_to(CHECKOUT) for p in sorted((CHECKOUT / "companion").rglob("*.py"))]
    for module in modules:
        if module.parts[:1] != ("companion",) or not (CHECKOUT / module).is_file():
            parser.error(f"{module}: no module of the checkout; give it as companion/music/scales.py")
    tests = {module: tests_of(module, asked.near) for module in modules}
    if untested := [str(module) for module in modules if not tests[module]]:
        print(f"without tests of their own: {', '.join(untested)}", file=sys.stderr)
    if left_out := [] if asked.real_time else [module for module in modules if needs_ports(module)]:
        print(f"left out, for tests in real time: {', '.join(map(str, left_out))}", file=sys.stderr)
    every = {module: mutants(module) for module in modules if tests[module] and module not in left_out}
    chosen = drawn(every, asked.sample, asked.seed)
    count: Counter[str] = Counter()
    rooms: dict[str, Counter[str]] = {}
    with tempfile.TemporaryDirectory(prefix="companion-mutants-") as folder:
        copy = Path(folder) / "checkout"
        shutil.copytree(CHECKOUT, copy, ignore=shutil.ignore_patterns(".git", "__pycache__", ".*_cache"))
        warm(copy)
        limits: dict[tuple[Path | str, ...], float | None] = {}
        try:
            for number, mutant in enumerate(chosen[asked.first - 1 :], asked.first):
                those: Sequence[Sequence[Path | str]] = tests[mutant.module]
                if asked.reached:
                    those = tests_reaching(copy, mutant, asked.reached, RECORDING * asked.limit)
                for some in those:
                    if asked.trust or asked.reached:
                        limits[tuple(some)] = asked.limit
                    elif tuple(some) not in limits:
                        print(f"{told(some)} as it stands", file=sys.stderr)
                        limits[tuple(some)] = limit_of(copy, some, asked.limit, asked.real_time)
                if None in (mine := [limits[tuple(some)] for some in those]):
                    count["untried"] += 1
                    print(f"untried: {mutant.module}:{mutant.line}: its tests fail or take too long as they are")
                    continue
                print(f"{number} of {len(chosen)}: {mutant.module}:{mutant.line}", file=sys.stderr)
                became = tried(copy, mutant, those, [limit for limit in mine if limit], asked.real_time)
                count[became] += 1
                rooms.setdefault(mutant.module.parts[1], Counter())[became] += 1
                if became != "killed" or asked.all:
                    print(f"{became}: {mutant.module}:{mutant.line}: {mutant.before} → {mutant.after}", flush=True)
                if os.name == "posix" and Path(os.devnull).is_file():  # tried as root
                    sys.exit(f"the last one put a file at {os.devnull}; mend: mknod -m 666 {os.devnull} c 1 3")
        except KeyboardInterrupt:
            print("stopped", file=sys.stderr)
    for room, some in sorted(rooms.items()):
        print(f"{room}: {some['killed']} of {some['killed'] + some['survived']}")
    sure = count["killed"] + count["survived"]
    if sure:
        apart = f", {count['endless']} without an end, {count['late']} too late to tell, {count['untried']} untried"
        print(f"{count['killed']} of {sure} killed ({count['killed'] / sure:.0%}){apart}, seed {asked.seed}")
    return 130 if count.total() < len(chosen[asked.first - 1 :]) else int(count["survived"] > 0)


if __name__ == "__main__":
    sys.exit(main())
