"""``companion chart capture``, ``chart ear`` and the import of MIDI files, as a shell sees them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.cli import main
from companion.load import load
from companion.pianist.player import manners, simulate
from companion.stage.performance import write_recording


@pytest.fixture
def recorded(stand, tmp_path):
    """The built-in player's melody of a tune, to a click at 120 whose first downbeat is at 5 s."""
    form = stand.tune().unfold()
    played = simulate(form, "melody", manner=replace(manners()["clean"], drift=0.0), seed=5)
    path = tmp_path / "melody.mid"
    write_recording(path, played.heard, [])
    return path, form, played


def test_a_recorded_melody_and_typed_symbols_become_a_chart(recorded, tmp_path, capsys):
    path, form, _ = recorded
    out = tmp_path / "tune.toml"
    words = ["--symbols", "| Cmaj7 | Em7 A7 | Dm7 | G7 |", "--title", "Ten", "--key", "C", "--out", str(out)]
    assert main(["chart", "capture", "--from", str(path), "--tempo", "120", "--start", "5", *words]) == 0
    chart = load(out)
    assert str(out) in capsys.readouterr().out
    assert [(n.beat, n.pitch) for n in chart.unfold().melody] == [(n.beat, n.pitch) for n in form.melody]
    assert (chart.title, chart.tempo, chart.feel) == ("Ten", 120, "swing")
    assert [s.chord.symbol for s in chart.unfold().chords][:5] == ["Cmaj7", "Em7", "A7", "Dm7", "G7"]


def test_beats_may_be_listed_one_by_one(recorded, tmp_path):
    path, form, played = recorded
    (tmp_path / "beats.csv").write_text(played.truth_csv())
    out = tmp_path / "tune.toml"
    words = ["chart", "capture", "--from", str(path), "--beats", str(tmp_path / "beats.csv"), "--out", str(out)]
    assert main(words) == 0
    assert [n.beat for n in load(out).unfold().melody] == [n.beat for n in form.melody]


def test_a_midi_file_is_imported(recorded, tmp_path):
    path, form, _ = recorded
    out = tmp_path / "tune.toml"
    assert main(["chart", "import", str(path), "--out", str(out)]) == 0
    assert len(load(out).unfold().melody) == len(form.melody)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--from", "nowhere.mid"], "nowhere.mid"),
        (["--chords", "x.mid"], "go with a recording"),
        (["--metre", "five"], "'five' is not a metre"),
        (["--key", "H"], "'H' is not a key"),
        (["--symbols", "| Hm7 |"], "'Hm7' is not a chord symbol"),
        (["--type", "--no-chords"], "not allowed with"),
        (["--tempo", "0"], "is not a tempo"),
    ],
)
def test_bad_use_is_one_line(words, said, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["chart", "capture", *words]) == 2
    error = capsys.readouterr().err
    assert said in error and error.count("\n") == 1


def test_a_chart_that_is_there_is_never_lost(recorded, tmp_path, capsys):
    path, _, _ = recorded
    out = tmp_path / "tune.toml"
    out.write_text("mine")
    assert main(["chart", "capture", "--from", str(path), "--tempo", "120", "--start", "5", "--out", str(out)]) == 0
    former = tmp_path / "tune.toml.former-1"
    assert former.read_text() == "mine" and f"what stood there is kept in {former}" in capsys.readouterr().err
    assert out.read_text().startswith("format = 1")


def test_an_ear_without_bars_is_one_line(tmp_path, capsys):
    assert main(["chart", "ear", "ferry-without-lights", "--bars", "900"]) == 2
    assert "there is no bar 900" in capsys.readouterr().err
