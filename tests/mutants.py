"""Which small faults the tests of a room let through: mutants of its modules, made and tried one at a time.

    python tests/mutants.py --module companion/music/scales.py --sample 10 --seed 1
    python tests/mutants.py --own --sample 200      # against the modules' own test files only: in half an hour
    python tests/mutants.py --sample 200            # of the whole package; takes an hour or two

A mutant is one change of the source: a whole number one higher or lower, another number half as large or half as
large again, a comparison flipped or its boundary moved, ``and`` for ``or``, a condition denied or its ``not`` taken
away, + for -, * for /, or None returned where the annotation promises something else. Docstrings, annotations,
decorators and the messages of errors stay. The change is made in a temporary copy of the checkout. The module's own
test file runs first, then its room's folder, but for tests that need a port, play in real time or are slow; a mutant
that neither sees has survived. One that keeps the processor busy for too long, in a loop without an end, is killed as
well; runs that take too long without that are counted by themselves: on a busy machine they may say nothing.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

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


@dataclass(frozen=True)
class Mutant:
    """One change: UTF-8 offsets of the span in the module, and what stands there instead."""

    module: Path
    line: int
    start: int
    end: int
    before: str
    after: str


def mutants(module: Path) -> list[Mutant]:
    """Every mutant of a module, given by its path from the checkout."""
    source = (CHECKOUT / module).read_bytes()
    starts = [0]
    for row in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(row))

    def changed(node: ast.expr, after: str) -> Mutant:
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
        return Mutant(module, node.lineno, start, end, source[start:end].decode(), after)

    def visit(node: ast.AST, promised: bool) -> Iterator[Mutant]:
        if isinstance(node, ast.FunctionDef):
            promised = node.returns is not None and "None" not in ast.unparse(node.returns)
        if isinstance(node, ast.JoinedStr):
            return
        if isinstance(node, ast.Constant) and type(node.value) in (int, float):
            ways = ("+ 1", "- 1") if type(node.value) is int or node.value == 0 else ("* 1.5", "* 0.5")
            yield from (changed(node, f"({node.value!r} {way})") for way in ways)
        elif isinstance(node, ast.Compare):
            sides = [ast.unparse(side) for side in (node.left, *node.comparators)]
            words = [WORDS[type(op)] for op in node.ops]
            for n, op in enumerate(node.ops):
                for other in (SWAPS[type(op)], BOUNDARIES.get(type(op))):
                    if other is not None:
                        told = [*words[:n], other, *words[n + 1 :]]
                        rest = " ".join(f"{word} {side}" for word, side in zip(told, sides[1:], strict=True))
                        yield changed(node, f"({sides[0]} {rest})")
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield changed(node, f"({ast.unparse(node.operand)})")
        elif isinstance(node, ast.BoolOp):
            word = f" {SWAPS[type(node.op)]} "
            yield changed(node, "(" + word.join(f"({ast.unparse(v)})" for v in node.values) + ")")
        elif isinstance(node, ast.BinOp) and type(node.op) in SWAPS:
            yield changed(node, f"(({ast.unparse(node.left)}) {SWAPS[type(node.op)]} ({ast.unparse(node.right)}))")
        elif isinstance(node, ast.If | ast.While | ast.IfExp) and not isinstance(node.test, ast.Compare | ast.UnaryOp):
            yield changed(node.test, f"(not ({ast.unparse(node.test)}))")
        elif isinstance(node, ast.Return) and node.value is not None and promised:
            yield changed(node.value, "None")
        for name, value in ast.iter_fields(node):
            if name not in SKIPPED:
                for child in value if isinstance(value, list) else [value]:
                    if isinstance(child, ast.AST):
                        yield from visit(child, promised)

    return list(visit(ast.parse(source), False))


def tests_of(module: Path, own_only: bool = False) -> list[Path]:
    """The module's own test file, then its room's tests unless only its own are asked for: those there are."""
    inside = module.relative_to("companion")
    own = Path("tests") / inside.parent / f"test_{inside.name}"
    room = Path("tests") / inside.parts[0] if len(inside.parts) > 1 else own
    wanted = (own,) if own_only else dict.fromkeys((own, room))
    return [path for path in wanted if (CHECKOUT / path).exists()]


def outcome(copy: Path, tests: Path, limit: float) -> str:
    """What these tests say in the copy: 'passed', 'failed' (or 'late' where a run took too long without computing).

    ``limit``: seconds of processor time, after which the run is ended and has failed.
    """
    words = [
        sys.executable,
        "-m",
        "pytest",
        "-x",
        "-q",
        "-n0",
        "-p",
        "no:cacheprovider",
        "-m",
        "not jack and not real_time and not slow",
    ]
    surroundings = os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
    quiet = subprocess.DEVNULL
    process = subprocess.Popen(
        [*words, str(tests)],
        cwd=copy,
        env=surroundings,
        stdin=quiet,
        stdout=quiet,
        stderr=quiet,
        start_new_session=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (int(limit), int(limit) + 5)),
    )
    try:
        return "passed" if process.wait(WAITING * limit) in (0, 5) else "failed"  # 5: there is no test without a port
    except subprocess.TimeoutExpired:
        return "late"
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)  # with whatever its tests have started
        process.wait()


def tried(copy: Path, mutant: Mutant, every: Sequence[Path], limit: float) -> str:
    """What becomes of one mutant in the copy under these tests: 'survived', 'killed' or 'late'; it is put back."""
    path = copy / mutant.module
    source = path.read_bytes()
    try:
        path.write_bytes(source[: mutant.start] + mutant.after.encode() + source[mutant.end :])
        for tests in every:
            if (said := outcome(copy, tests, limit)) != "passed":
                return "killed" if said == "failed" else said
        return "survived"
    finally:
        path.write_bytes(source)


def main() -> int:
    """Try a sample; 0 when all were killed, 1 when some survived, 2 when the tests fail as they stand."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--module", type=Path, action="append", help="from the checkout's top; may be repeated (all)")
    parser.add_argument("--sample", type=int, default=20, metavar="N", help="mutants to try (20)")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="the same seed, the same mutants (1)")
    parser.add_argument("--limit", type=float, default=300, metavar="SECONDS", help="of one run, processor time (300)")
    parser.add_argument("--own", action="store_true", help="the modules' own test files only")
    asked = parser.parse_args()
    modules = asked.module or [p.relative_to(CHECKOUT) for p in sorted((CHECKOUT / "companion").rglob("*.py"))]
    for module in modules:
        if module.parts[:1] != ("companion",) or not (CHECKOUT / module).is_file():
            parser.error(f"{module}: no module of the checkout; give it as companion/music/scales.py")
    tests = {module: tests_of(module, asked.own) for module in modules}
    if untested := [str(module) for module in modules if not tests[module]]:
        print(f"without tests of their own: {', '.join(untested)}", file=sys.stderr)
    every = [mutant for module in modules if tests[module] for mutant in mutants(module)]
    chosen = random.Random(asked.seed).sample(every, min(asked.sample, len(every)))
    count: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(prefix="companion-mutants-") as folder:
        copy = Path(folder) / "checkout"
        shutil.copytree(CHECKOUT, copy, ignore=shutil.ignore_patterns(".git", "__pycache__", ".*_cache"))
        try:
            for room in sorted({tests[mutant.module][-1] for mutant in chosen}):
                print(f"{room} as it stands", file=sys.stderr)
                if outcome(copy, room, asked.limit) != "passed":
                    print(
                        f"{room}: fails or takes over {asked.limit:g} s of processor time without any mutant",
                        file=sys.stderr,
                    )
                    return 2
            for number, mutant in enumerate(chosen, 1):
                print(f"{number} of {len(chosen)}: {mutant.module}:{mutant.line}", file=sys.stderr)
                became = tried(copy, mutant, tests[mutant.module], asked.limit)
                count[became] += 1
                if became != "killed":
                    print(f"{became}: {mutant.module}:{mutant.line}: {mutant.before} → {mutant.after}", flush=True)
        except KeyboardInterrupt:
            print("stopped", file=sys.stderr)
    told = count["killed"] + count["survived"]
    if told:
        late = f", {count['late']} too late to tell" if count["late"] else ""
        print(f"{count['killed']} of {told} killed ({count['killed'] / told:.0%}){late}, seed {asked.seed}")
    return 130 if count.total() < len(chosen) else int(count["survived"] > 0)


if __name__ == "__main__":
    sys.exit(main())
