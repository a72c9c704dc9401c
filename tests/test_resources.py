"""Charts and configurations are found: the player's own before the shipped; faults in them by file and line."""

# ruff: noqa: E501 (rows stand whole in the tables)

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from companion import resources
from companion.errors import ChartError, ConfigError


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The player's own folder."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    for name in ("configs", "charts"):
        (tmp_path / name).mkdir()
    return tmp_path


def test_what_is_shipped_is_found_without_a_folder_of_ones_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path / "not made yet"))
    assert "treatments.toml" in [path.name for path in resources.config_paths()]
    assert "two-spoons-short" in resources.chart_names()
    assert not (tmp_path / "not made yet").exists()


def test_the_players_preferences_are_found_after_the_shipped_ones(own: Path) -> None:
    (own / "configs" / "treatments-mine.toml").write_text("")
    (own / "configs" / "bass.toml").write_text("")
    found = resources.config_paths()
    assert [path.name for path in found if path.parent == own / "configs"] == ["bass.toml", "treatments-mine.toml"]
    assert found[0].parent != own / "configs" and found[-1].parent == own / "configs"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a = 1\nb = \n", 2),
        ("a = 1\n\nb = [1,\n", 3),
        ("a = 1\na = 2\n", 2),
        ('title = "no end\n', 1),
    ],
)
def test_a_slip_in_a_configuration_is_found_by_its_line(own: Path, text: str, line: int) -> None:
    with pytest.raises(tomllib.TOMLDecodeError):
        tomllib.loads(text)
    (own / "configs" / "feels.toml").write_text(text)
    with pytest.raises(ConfigError, match=rf"feels\.toml: line {line}: not valid TOML: .*") as fault:
        resources.read_toml_file(own / "configs" / "feels.toml")
    assert "(at" not in str(fault.value)


def test_a_configuration_in_another_encoding_is_found_by_its_line(own: Path) -> None:
    (own / "configs" / "feels.toml").write_bytes("a = 1\nb = 'Übung'\n".encode("latin-1"))
    with pytest.raises(ConfigError, match=r"feels\.toml: line 2: is not UTF-8 text; save it as UTF-8"):
        resources.read_toml_file(own / "configs" / "feels.toml")


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("a = " + "1" * 5000, r"a number has thousands of digits; write it shorter"),
        ("a = " + "[" * 5000, r"brackets lie too deep in each other; take them out"),
        ("#" * (1 << 20) + "\n", r"is larger than 1 MB, too large for preferences"),
    ],
    ids=["digits", "brackets", "size"],
)
def test_a_configuration_that_no_hand_wrote_is_one_line(own: Path, text: str, what: str) -> None:
    (own / "configs" / "feels.toml").write_text(text)
    with pytest.raises(ConfigError, match=what):
        resources.read_toml_file(own / "configs" / "feels.toml")


def test_a_configuration_with_a_byte_order_mark_is_read(own: Path) -> None:
    (own / "configs" / "feels.toml").write_bytes(b"\xef\xbb\xbfa = 1\r\n")
    assert resources.read_toml_file(own / "configs" / "feels.toml") == {"a": 1}


def test_a_chart_is_found_by_path_and_by_name(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    mine = own / "charts" / "my-tune.toml"
    mine.write_text("")
    assert resources.chart_path("my-tune") == mine
    assert resources.chart_path(str(mine)) == mine
    assert "my-tune" in resources.chart_names()
    monkeypatch.chdir(own / "charts")
    assert resources.chart_path("my-tune.toml") == Path("my-tune.toml")


@pytest.mark.parametrize("name", ["My Tune", "my_tune", "MY-TUNE", "my tune.toml", "my-t", "Mÿ Tune!"])
def test_a_charts_name_is_understood_however_it_is_written_or_begun(own: Path, name: str) -> None:
    (own / "charts" / "my-tune.toml").write_text("")
    assert resources.chart_path(name) == own / "charts" / "my-tune.toml"


def test_a_beginning_that_several_charts_share_is_asked_about(own: Path) -> None:
    for name in ("my-tune", "my-other"):
        (own / "charts" / f"{name}.toml").write_text("")
    with pytest.raises(ChartError, match="say which: my-other, my-tune"):
        resources.chart_path("my")


def test_the_whole_name_goes_before_one_that_it_begins(own: Path) -> None:
    for name in ("my-tune", "my-tune-2"):
        (own / "charts" / f"{name}.toml").write_text("")
    assert resources.chart_path("My Tune").stem == "my-tune"


@pytest.mark.parametrize("name", ["another-tune", "another-tune.toml", "no/such/folder/tune.mxl"])
def test_a_chart_that_is_not_there_is_said_with_those_that_are(own: Path, name: str) -> None:
    (own / "charts" / "my-tune.toml").write_text("")
    with pytest.raises(ChartError, match="my-tune") as fault:
        resources.chart_path(name)
    assert name in str(fault.value)


def test_a_folder_is_not_a_chart(own: Path) -> None:
    with pytest.raises(ChartError, match="is a folder, not a chart"):
        resources.chart_path(str(own))


def test_a_misspelt_chart_is_answered_with_the_nearest_and_another_with_those_there_are() -> None:
    with pytest.raises(
        ChartError, match=r"there is no chart 'ferry-wihout-lights'; did you mean 'ferry-without-lights'\?"
    ):
        resources.chart_path("ferry-wihout-lights")
    with pytest.raises(ChartError, match=r"there is no chart 'waltz'; charts that need no path: .*two-spoons-short"):
        resources.chart_path("waltz")


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Kettle at Six", "kettle-at-six"), ("Ça va?", "ca-va"), ("!", "untitled"), ("", "untitled"), ("It's Late", "its-late"),
        ("x" * 61, "x" * 60), ("x" * 59 + " y", "x" * 59), ("  A -- 2 ", "a-2"),
    ],
)  # fmt: skip
def test_a_chart_is_called_by_the_letters_and_digits_of_its_title(title: str, name: str) -> None:
    assert resources.chart_name(title) == name


def test_a_new_chart_takes_a_name_that_no_chart_has(own: Path) -> None:
    assert resources.free_chart_place("lid") == own / "charts" / "lid.toml"
    (own / "charts" / "lid.abc").write_text("")
    assert resources.free_chart_place("lid") == own / "charts" / "lid-2.toml"
    (own / "charts" / "lid-2.former").write_text("")
    assert resources.free_chart_place("lid") == own / "charts" / "lid-3.toml"
    assert resources.free_chart_place("two-spoons-short") == own / "charts" / "two-spoons-short-2.toml"


def test_what_is_shipped_is_told_from_what_is_the_players_own(own: Path) -> None:
    assert resources.is_shipped(resources.shipped_folder() / "charts" / "two-spoons-short.toml")
    assert not resources.is_shipped(own / "charts" / "two-spoons-short.toml")


def test_the_players_folder_is_the_one_that_is_set_or_the_systems(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COMPANION_DATA", "~/mine")
    assert resources.data_folder() == Path.home() / "mine"
    monkeypatch.delenv("COMPANION_DATA")
    assert resources.data_folder().name == "companion"


@pytest.mark.parametrize("name", ["folder/tune", "tune.mxl"])
def test_a_path_to_nothing_is_said_to_be_one(own: Path, name: str) -> None:
    with pytest.raises(
        ChartError, match=rf"{name}: there is no such file; charts that need no path: .*two-spoons-short"
    ):
        resources.chart_path(name)


def test_without_any_chart_a_path_is_asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    monkeypatch.setattr(resources, "shipped_folder", lambda: tmp_path)
    with pytest.raises(ChartError, match="there is no chart 'tune'; give the path of a chart"):
        resources.chart_path("tune")


def test_a_name_of_signs_alone_begins_no_chart(own: Path) -> None:
    with pytest.raises(ChartError, match="there is no chart '!!'; charts that need no path"):
        resources.chart_path("!!")


def test_every_kind_of_chart_is_known_by_name_and_nothing_else_is(own: Path) -> None:
    for name in ("a.toml", "b.musicxml", "c.mxl", "d.xml", "e.abc", "f.mid", "README.md", "g.toml.former-1"):
        (own / "charts" / name).write_text("")
    assert [name for name in resources.chart_names() if len(name) < 8] == ["a", "b", "c", "d", "e"]
    assert resources.IMPORT_SUFFIXES == (".musicxml", ".mxl", ".xml", ".abc", ".mid", ".midi")
    assert resources.chart_files()["a"] == own / "charts" / "a.toml"
    assert list(resources.chart_files()) == sorted(resources.chart_files())


def test_ones_own_chart_goes_before_a_shipped_one_of_the_same_name(own: Path) -> None:
    mine = own / "charts" / "two-spoons-short.toml"
    mine.write_text("")
    assert resources.chart_path("two-spoons-short") == resources.chart_path("Two Spoons") == mine


@pytest.mark.parametrize("end", ["\n", "\n\n\n", ""])
def test_what_is_missing_at_the_end_is_missing_in_the_last_line_that_says_something(own: Path, end: str) -> None:
    path = own / "configs" / "feels.toml"
    path.write_text(f"a = 1\nb = [1,{end}")
    with pytest.raises(ConfigError, match=r"feels\.toml: line 2: not valid TOML: [a-z]"):
        resources.read_toml_file(path)
    path.write_bytes(b"a = 1\r\nb = 2\rc = 3\n")
    assert resources.read_toml_file(path) == {"a": 1, "b": 2, "c": 3}
