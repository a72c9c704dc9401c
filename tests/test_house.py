"""The house stands as DEVELOPERS.md draws it: rooms rest on the rooms below, and what all of it promises holds."""

from __future__ import annotations

import ast
import inspect
import os
import re
import subprocess
import sys
import zipfile
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

import companion
from companion import errors
from companion.resources import DATA_VARIABLE

PACKAGE = Path(companion.__file__).parent
CHECKOUT = Path(__file__).parents[1]
MODULES = sorted(PACKAGE.rglob("*.py"))

FOUNDATION = (
    "__init__", "errors", "installation", "files", "messages", "resources", "midi_file", "arrays",
    "archives",
)  # fmt: skip
"""What every room may stand on; each of these only on those before it."""
ROOMS = (
    "preferences", "music", "chart", "ports", "follow", "arrange", "transcribe", "load", "pianist", "stage", "engrave",
    "practice", "page",
)  # fmt: skip
"""From the ground up: each room stands only on those before it. The commands (cli, __main__) stand on all of them."""
BEHAVIOUR = "behaviour"
"""Folder in a room's tests for what several modules do together; its files are named for what is heard or seen."""
TESTS_BY_SUBJECT = {
    "reference": "held to what others publish, whichever module says it",
    "benchmarks": "parts of the scripts there",
    "browser": "the page as a browser shows it",
}
"""Folders of tests that belong to no room, and what their tests are about."""
TESTS_OF_THE_WHOLE = {
    "test_docstrings.py": "the examples in all modules",
    "test_house.py": "the checkout as a whole",
    "test_readme.py": "what the README promises",
}
"""Test files beside the rooms that guard no module of the package, and what they guard."""
HEAVY = {
    "numpy",
    "rtmidi",
    "supriya_midi",
    "mido",
    "msgspec",
    "music21",
    "partitura",
    "mir_eval",
    "verovio",
    "matplotlib",
    "sqlite3",
    "asyncio",
    "defusedxml",
}


def _floor(path: Path) -> int:
    """How high a module stands."""
    first = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    floors = (*FOUNDATION, *ROOMS)
    return floors.index(first) if first in floors else len(floors)


@cache
def _tree(path: Path) -> ast.Module:
    """What a module says; parsed once for all these tests."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def _names(path: Path) -> frozenset[str]:
    """What a module imports, wherever in the file it does, types included; each name in full."""
    names: set[str] = set()
    for node in ast.walk(_tree(path)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert not node.level, f"{path}:{node.lineno}: imports are written in full here"
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return frozenset(names)


def _imported(path: Path) -> set[str]:
    """The parts of the house that a module imports."""
    return {name.split(".")[1] for name in _names(path) if name.startswith("companion.")}


def _module(path: Path) -> str:
    """What a file is called by whoever imports it."""
    return ".".join(("companion", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__")


def test_a_room_stands_only_on_the_rooms_below_it() -> None:
    floors = (*FOUNDATION, *ROOMS)
    reaching_up = []
    for path in MODULES:
        here = _floor(path)
        above = {room for room in _imported(path) if room in floors and floors.index(room) > here}
        if here < len(floors):
            above |= _imported(path) & {"cli", "__main__"}
        reaching_up += [f"{path.relative_to(PACKAGE)} reaches up into {room}" for room in sorted(above)]
    assert not reaching_up


def test_no_module_imports_another_in_a_circle() -> None:
    """Not within a function either, and not for types: what two modules need of each other belongs below both."""
    modules = {_module(path): path for path in MODULES}
    graph = {
        name: {found if found in modules else found.rpartition(".")[0] for found in _names(path)} & modules.keys()
        for name, path in modules.items()
    }
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as circle:
        pytest.fail(" is imported by ".join(circle.args[1]))


def test_no_import_hides_in_a_string() -> None:
    hidden = re.compile(r"\bimport_module\b|\b__import__\b")
    assert not [str(path) for path in MODULES if hidden.search(path.read_text(encoding="utf-8"))]


def test_every_room_is_on_the_plan() -> None:
    """In the order of ROOMS, and in the table that DEVELOPERS.md draws from the top; folders within a room as well."""
    table = re.findall(r"^\| `companion/([\w/]+?)(?:/|\.py)` \|", (CHECKOUT / "DEVELOPERS.md").read_text("utf-8"), re.M)
    folders = [path.parent.relative_to(PACKAGE).as_posix() for path in MODULES if path.name == "__init__.py"]
    files = [path.stem for path in PACKAGE.glob("[a-z]*.py")]
    assert sorted(table) == sorted([*(folder for folder in folders if folder != "."), *files])
    floors = ("cli", *reversed(ROOMS), *reversed(FOUNDATION))
    assert [floors.index(part.split("/")[0]) for part in table] == sorted(floors.index(p.split("/")[0]) for p in table)


def test_every_module_says_what_it_is_for() -> None:
    said = {str(path.relative_to(PACKAGE)): ast.get_docstring(_tree(path)) or "" for path in MODULES}
    assert [path for path, text in said.items() if not (text[:1].isupper() or text.startswith("``"))] == []


def test_every_test_file_names_the_module_that_it_guards() -> None:
    """Or stands in a folder for behaviour across modules, or in one that belongs to no room."""
    astray = []
    for path in sorted((CHECKOUT / "tests").rglob("test_*.py")):
        place = path.relative_to(CHECKOUT / "tests")
        if place.parts[0] in TESTS_BY_SUBJECT or place.as_posix() in TESTS_OF_THE_WHOLE:
            continue
        room = PACKAGE / place.parent
        guarded = room.parent if place.parent.name == BEHAVIOUR else room / place.name.removeprefix("test_")
        if not guarded.exists():
            astray.append(place.as_posix())
    assert not astray, "no module has this name; see DEVELOPERS.md, Tests"


def test_the_glossary_is_short_and_in_order() -> None:
    """A line a word, sixty at most, so that it can be read at a sitting."""
    text = (CHECKOUT / "DEVELOPERS.md").read_text(encoding="utf-8").split("\n## Glossary\n")[1].split("\n## ")[0]
    words = re.findall(r"^\| ([^|]+?) \| [^|]+ \|$", text, re.M)[1:]
    assert 20 < len(words) <= 60
    assert words == sorted(words, key=str.lower)


def test_a_name_of_a_class_or_a_type_is_defined_once() -> None:
    """And a public function's name at most twice: one name for one idea, wherever it is met."""
    types: dict[str, list[str]] = {}
    functions: dict[str, list[str]] = {}
    for path in MODULES:
        for node in _tree(path).body:
            if isinstance(node, ast.ClassDef):
                types.setdefault(node.name, []).append(_module(path))
            elif isinstance(node, ast.FunctionDef):
                functions.setdefault(node.name, []).append(_module(path))
            elif isinstance(node, ast.Assign) and re.fullmatch(r"[A-Z][a-z]\w+", name := ast.unparse(node.targets[0])):
                types.setdefault(name, []).append(_module(path))
    assert not {name: where for name, where in types.items() if len(where) > 1 and name[0] != "_"}
    assert not {name: where for name, where in functions.items() if len(where) > 2 and name[0] != "_"}


def test_the_tree_of_errors_is_drawn_at_the_top_of_its_file() -> None:
    drawn: list[tuple[int, str, str | None]] = []
    for match in re.finditer(r"^( *)([A-Z]\w+)(?: \((\w+)\))?(?:  |$)", errors.__doc__ or "", re.M):
        drawn.append((len(match[1]), match[2], match[3]))
    parents: dict[str, set[str]] = {}
    stack: list[tuple[int, str]] = []
    for indent, name, builtin in drawn:
        while stack and stack[-1][0] >= indent:
            stack.pop()
        parents[name] = {parent for parent in (stack[-1][1] if stack else "Exception", builtin) if parent}
        stack.append((indent, name))
    real = {
        name: {base.__name__ for base in kind.__bases__}
        for name, kind in inspect.getmembers(errors, inspect.isclass)
        if kind.__module__ == errors.__name__
    }
    assert parents == real


def test_every_error_has_an_exit_status_that_scripts_may_rely_on() -> None:
    # 0 done, 1 faults found, 2 bad input or use, 3 a device is missing
    kinds = [k for _, k in inspect.getmembers(errors, inspect.isclass) if issubclass(k, errors.CompanionError)]
    for kind in kinds:
        expected = 3 if issubclass(kind, errors.DeviceError) else 1 if issubclass(kind, errors.FaultsFound) else 2
        assert kind.exit_status == expected, kind.__name__


def test_an_error_prints_as_one_line_with_file_place_and_remedy() -> None:
    error = errors.ChordError("'Hm7' is not a chord symbol", mend="write Bm7").within(where="bar 3")
    error = error.within(file="tune.toml", where="section B")  # type: ignore[assignment]
    assert str(error) == "tune.toml: section B, bar 3: 'Hm7' is not a chord symbol; write Bm7"
    assert isinstance(error, errors.ChordError) and isinstance(error, ValueError)


def _python(*words: str, folder: Path = CHECKOUT, **environment: str) -> subprocess.CompletedProcess[str]:
    command, env = [sys.executable, *words], {**os.environ, **environment}
    return subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, timeout=120)


def test_help_answers_without_loading_anything_heavy() -> None:
    code = """
        import sys
        from companion.cli import main
        try:
            main(["--help"])
        except SystemExit:
            pass
        print("LOADED", *sorted({name.split(".")[0] for name in sys.modules}))
    """
    result = _python("-c", inspect.cleandoc(code))
    loaded = set(result.stdout.rsplit("LOADED", 1)[1].split())
    assert "usage: companion" in result.stdout
    assert not loaded & HEAVY


def test_importing_any_module_reads_no_chart_and_no_configuration_and_opens_no_port() -> None:
    code = """
        import importlib, pkgutil, sys, threading
        import numpy
        read = []
        def hook(event, args):
            if event == "open" and str(args[0]).endswith((".toml", ".musicxml", ".mxl", ".mid", ".sqlite")):
                read.append(args[0])
            elif event in ("socket.bind", "socket.connect", "sqlite3.connect", "subprocess.Popen"):
                read.append(event)
        sys.addaudithook(hook)
        import companion
        for module in pkgutil.walk_packages(companion.__path__, "companion."):
            if not module.name.endswith("__main__") and "_shipped" not in module.name:
                importlib.import_module(module.name)
        print("READ", *read, "THREADS", threading.active_count())
        print("LOADED", *sorted({name.split(".")[0] for name in sys.modules}))
    """
    result = _python("-c", inspect.cleandoc(code))
    assert result.returncode == 0, result.stderr
    assert "READ THREADS 1\n" in result.stdout
    loaded = set(result.stdout.rsplit("LOADED", 1)[1].split())
    assert not loaded & {"rtmidi", "supriya_midi", "music21", "partitura", "mir_eval", "verovio"}


def test_tests_have_a_data_folder_of_their_own(tmp_path: Path) -> None:
    """A chart of whoever runs them is none that they look at."""
    (tmp_path / "charts").mkdir()
    (tmp_path / "charts" / "of-somebody.toml").write_text("format = 1\n")
    words = [sys.executable, "-m", "pytest", "--collect-only", "-q", "tests/arrange/audit/test_arrangement.py"]
    theirs = {**os.environ, DATA_VARIABLE: str(tmp_path)}
    seen = subprocess.run(words, cwd=CHECKOUT, env=theirs, capture_output=True, text=True, timeout=120)
    assert seen.returncode == 0 and "heron-over-slate" in seen.stdout
    assert "of-somebody" not in seen.stdout


def test_no_file_speaks_of_one_machine() -> None:
    places = re.compile(r"/w[o]rk/|\.\./sh[a]red|/r[o]ot/|/h[o]me/\w|ind[e]x-url|p[y]pi-")
    kinds = {".py", ".md", ".toml", ".js", ".css", ".html", ".txt", ""}
    skipped = {
        ".git",
        ".coverage",
        ".venv",
        "venv",
        "build",
        "dist",
        ".mypy_cache",
        ".ruff_cache",
        ".pytest_cache",
        ".hypothesis",
    }
    found = []
    for folder, folders, files in os.walk(CHECKOUT):
        folders[:] = [name for name in folders if name not in skipped and name != "__pycache__"]
        for path in (Path(folder, name) for name in files if Path(name).suffix in kinds and name not in skipped):
            text = path.read_text(encoding="utf-8", errors="replace")
            found += [f"{path.relative_to(CHECKOUT)}: {match[0]}" for match in places.finditer(text)]
    assert not found


def test_an_installed_wheel_finds_its_charts_and_configurations(tmp_path: Path) -> None:
    pytest.importorskip("hatchling", reason="builds a wheel with hatchling")
    built = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert built.returncode == 0, built.stderr
    (wheel,) = tmp_path.glob("*.whl")
    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    code = "from companion.resources import *; print(shipped_folder()); print(*chart_names()); print(*config_paths())"
    result = _python("-c", code, folder=tmp_path, PYTHONPATH=str(site), COMPANION_DATA=str(tmp_path / "nothing"))
    assert result.returncode == 0, result.stderr
    folder, charts, configs = result.stdout.splitlines()
    assert Path(folder) == site / "companion" / "_shipped"
    assert set(charts.split()) == {path.stem for path in (CHECKOUT / "charts").glob("*.toml")}
    assert {Path(p).name for p in configs.split()} == {path.name for path in (CHECKOUT / "configs").glob("*.toml")}
