"""``companion chart capture``, ``chart ear`` and the import of MIDI files, as a shell sees them."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pytest

from companion.cli import main
from companion.cli.capture import beat_list
from companion.errors import DeviceError, UseError
from companion.load import load
from companion.messages import Heard, State
from companion.music.meter import Metre
from companion.pianist.player import manners, simulate
from companion.resources import chart_path
from companion.stage.capture import CaptureSettings
from companion.stage.performance import write_recording
from companion.stage.settings import Settings
from companion.stage.take_writer import TakeWriter


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


# Where the beats of a recording are

LISTS = [
    ("0,1\n1,1.5\n2,2\n", ((0.0, 1.0), (1.0, 1.5), (2.0, 2.0))),
    ("-1,0.5\n0,1\n", ((-1.0, 0.5), (0.0, 1.0))),
    ("0,1\n1,2\n0,3\n1,4\n", ((0.0, 1.0), (1.0, 2.0), (2.0, 3.0), (3.0, 4.0))),  # begun again with each chorus
    ("0,1\n2,2\n0,3\n2,4\n0,5\n", ((0.0, 1.0), (2.0, 2.0), (4.0, 3.0), (6.0, 4.0), (8.0, 5.0))),
    ("4,1\n5,2\n4,3\n5,4\n", ((4.0, 1.0), (5.0, 2.0), (6.0, 3.0), (7.0, 4.0))),
    ("0,1\n0,2\n1,3\n", ((0.0, 1.0), (1.0, 2.0), (2.0, 3.0))),  # a beat, until it is known otherwise
    ("0,1\n1,1\n2,2\n", ((0.0, 1.0), (2.0, 2.0))),  # two beats at one moment
]


@pytest.mark.parametrize(("rows", "points"), LISTS)
def test_a_list_of_beats_goes_on_where_it_begins_again(tmp_path, rows, points):
    path = tmp_path / "beats.csv"
    path.write_text("\ufeffchart_beat,seconds\n" + rows, encoding="utf-8")
    assert beat_list(path).points == points


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("chart_beat,seconds\n0,1\n", "has fewer than two beats; list every beat: chart_beat,seconds"),
        ("chart_beat,seconds\n", "has fewer than two beats"),
        ("beat,seconds\n0,1\n1,2\n", "is no list of beats; begin it with: chart_beat,seconds"),
        ("chart_beat,seconds\n0,one\n1,2\n", "is no list of beats"),
        ("chart_beat,seconds\n0\n1,2\n", "is no list of beats"),
        (None, "no such file or directory"),
    ],
)
def test_what_is_no_list_of_beats_is_told(tmp_path, text, said):
    path = tmp_path / "beats.csv"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    with pytest.raises(UseError) as told:
        beat_list(path)
    assert str(told.value).startswith(f"{path}: {said}")


@pytest.mark.parametrize(
    ("words", "tempo", "begins", "lasts"),
    [
        # The recording's own 120 quarters a minute; its notes begin after two seconds, a bar.
        ("", 120, 4, 1),
        ("--tempo 120", 120, 4, 1),
        ("--tempo 121", 121, 4, 1),  # less than a hundredth beside its own: its own beats
        ("--tempo 122 --start 2", 122, 0, 1),
        ("--start 2", 120, 0, 1),
        ("--start 1.1", 120, 2, 1),  # the beat that is nearest
        ("--tempo 60", 60, 0, 0.5),  # from its first note on
        ("--tempo 60 --start 1", 60, 1, 0.5),
    ],
)
def test_a_recording_has_its_own_beats_unless_others_are_said(performance, tmp_path, words, tempo, begins, lasts):
    out = tmp_path / "tune.toml"
    said = [*words.split(), "--key", "C", "--feel", "straight", "--no-chords", "--out", str(out)]
    assert main(["chart", "capture", "--from", str(performance), *said]) == 0
    chart = load(out)
    first = chart.unfold().melody[0]
    assert (chart.tempo, float(first.beat), float(first.length)) == (tempo, begins, lasts)


def test_the_tempo_of_listed_beats_is_that_of_the_two_about_the_first_downbeat(performance, tmp_path):
    """A pickup of 1.25 s and beats of half a second: two quarters in 1.75 s, 68.6 a minute."""
    beats, out = tmp_path / "beats.csv", tmp_path / "tune.toml"
    rows = ["-2,-2.0", "-1,0.75", *(f"{n},{2 + n / 2}" for n in range(40))]
    beats.write_text("\n".join(["chart_beat,seconds", *rows]), encoding="utf-8")
    words = ["--key", "C", "--feel", "straight", "--no-chords", "--beats", str(beats), "--out", str(out)]
    assert main(["chart", "capture", "--from", str(performance), *words]) == 0
    assert load(out).tempo == 68.6


@pytest.fixture
def captured(tmp_path):
    """The folder of a take in which four notes were captured, clicked at 90 from the third second on."""
    chart = load(chart_path("two-spoons-short"))
    writer = TakeWriter(chart, Settings(you=frozenset({"melody"}), parts=("click",)), tmp_path)
    writer.add(State(0.5, "counting", tempo=90.0))
    writer.add(State(3.0, "melody", tempo=90.0))
    for n, midi in enumerate((60, 62, 64, 65)):
        at = 3.0 + n * 60 / 90
        writer.add(Heard(at, 0x90, midi, 80))
        writer.add(Heard(at + 0.6, 0x80, midi, 0))
    return writer.close("ended")


@pytest.mark.parametrize(("words", "tempo"), [((), 90), (("--tempo", "91"), 91)])
def test_a_take_that_was_kept_becomes_a_chart_at_the_tempo_of_its_click(captured, tmp_path, words, tempo):
    out = tmp_path / "tune.toml"
    said = ["--key", "C", "--feel", "straight", "--no-chords", "--out", str(out), *words]
    assert main(["chart", "capture", "--from", str(captured), *said]) == 0
    chart = load(out)
    assert chart.tempo == tempo
    assert [(float(note.beat), note.pitch.midi) for note in chart.unfold().melody] == [
        (0, 60),
        (1, 62),
        (2, 64),
        (3, 65),
    ]


@pytest.mark.parametrize("words", ["--chords x.mid", "--beats x.csv", "--start 0", "--chords-start 0"])
def test_what_goes_with_a_recording_needs_one(words, capsys):
    assert main(["chart", "capture", *words.split()]) == 2
    said = "companion: --chords, --start and --beats go with a recording; name it with --from\n"
    assert capsys.readouterr().err == said


@pytest.mark.parametrize(("start", "first"), [((), "| % | Cmaj7"), (("--chords-start", "0"), "| Cmaj7")])
def test_chords_are_recorded_from_the_same_moment_unless_another_is_said(performance, tmp_path, start, first):
    # A chord of C major seven from the second bar on, which is the first where the recording begins there.
    chords, out = tmp_path / "chords.mid", tmp_path / "tune.toml"
    held = [heard for midi in (48, 52, 55, 59) for heard in (Heard(2.0, 0x90, midi, 64), Heard(3.9, 0x80, midi, 0))]
    write_recording(chords, sorted(held, key=lambda one: one.seconds), [])
    said = ["--start", "0", "--tempo", "120", "--key", "C", "--chords", str(chords), *start, "--out", str(out)]
    assert main(["chart", "capture", "--from", str(performance), *said]) == 0
    spans = [(float(span.start), span.chord.symbol) for span in load(out).unfold().chords]
    assert (4.0, "Cmaj7") in spans


def test_a_fault_names_the_recording_that_it_is_in(tmp_path, capsys):
    silent = tmp_path / "silent.mid"
    write_recording(silent, [Heard(1.0, 0xB0, 64, 127), Heard(2.0, 0xB0, 64, 0)], [])
    words = ["--tempo", "120", "--start", "1", "--no-chords", "--out", str(tmp_path / "tune.toml")]
    assert main(["chart", "capture", "--from", str(silent), *words]) == 2
    assert capsys.readouterr().err.startswith(f"companion: {silent}: ")


# At the keyboard

WALK = (60, 62, 64, 65, 67, 65, 64, 62)


def plays_at(capture, moment, keys, length=0.4):
    """Keys of half a second each from a moment on, as the capture hears them."""
    for number, midi in enumerate(keys):
        at = moment + 0.5 * number
        capture.advance(at, [Heard(at, 0x90, midi, 64)])
        capture.advance(at + length, [Heard(at + length, 0x80, midi, 0)])


def begun(asked):
    capture = asked.more["rehearsal"]
    capture.advance(0.0, [])
    return capture


def melody(asked):
    """Two bars after the count-in: a click after 1.5 s, and eight beats of half a second."""
    capture = begun(asked)
    plays_at(capture, 1.5 + 8 * 0.5, WALK)
    capture.advance(40.0, [])


def melody_and_chords(asked):
    capture = begun(asked)
    plays_at(capture, 1.5 + 8 * 0.5, WALK)
    now = 10.0
    while len(capture.passes) < 2:
        now += 0.5
        capture.advance(now, [])
    for number, chord in enumerate(((48, 52, 55), (41, 45, 48))):
        at = capture.passes[1].zero + 2 * number
        capture.advance(at, [Heard(at, 0x90, midi, 64) for midi in chord])
        capture.advance(at + 1.9, [Heard(at + 1.9, 0x80, midi, 0) for midi in chord])
    capture.advance(80.0, [])


CAPTURED = ["chart", "capture", "--tempo", "120", "--key", "C", "--feel", "straight", "--out", "tune.toml"]


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path / "data"))


@pytest.mark.parametrize(
    ("words", "plays", "typed", "chords"),
    [
        ([], melody_and_chords, "", ["C", "F"]),
        (["--no-chords"], melody, "", ["N.C."]),
        (["--symbols", "| Am7 | D7 |"], melody, "", ["Am7", "D7"]),
        (["--type"], melody, "| Am7 |\nD7 |\n\n", ["Am7", "D7"]),
        (["--type"], melody, "| Hm7 |\n\n| Am7 | D7 |\n\n", ["Am7", "D7"]),
        (["--type"], melody, "\n", ["N.C."]),
    ],
)
def test_what_is_played_at_the_keyboard_becomes_a_chart(
    keyboard, here, monkeypatch, words, plays, typed, chords, capsys
):
    keyboard.plays = plays
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    assert main([*CAPTURED, *words]) == 0
    chart = load(Path("tune.toml"))
    assert [(float(note.beat), note.pitch.midi) for note in chart.unfold().melody] == list(enumerate(WALK))
    assert [span.chord.symbol for span in chart.unfold().chords] == chords
    assert (chart.tempo, len(chart.unfold().bars)) == (120, 2)
    assert ("'Hm7' is not a chord symbol" in capsys.readouterr().err) == ("Hm7" in typed)
    (asked,) = keyboard.asked
    assert asked.more["rehearsal"].plan == CaptureSettings(Metre(), 120.0, 2, None, not words)
    assert asked.settings == Settings(you=frozenset({"melody"}), parts=("click",), tempo=120.0)


def test_typed_chords_that_end_in_a_fault_are_told(keyboard, here, monkeypatch, capsys):
    keyboard.plays = melody
    monkeypatch.setattr("sys.stdin", io.StringIO("| Hm7 |"))
    assert main([*CAPTURED, "--type"]) == 2
    assert "'Hm7' is not a chord symbol" in capsys.readouterr().err.splitlines()[-1]


@pytest.mark.parametrize("stop", [KeyboardInterrupt(), DeviceError("the piano went away")])
def test_what_was_played_before_it_was_broken_off_is_kept(keyboard, here, monkeypatch, stop):
    def broken(asked):
        melody(asked)
        raise stop

    keyboard.plays = broken
    monkeypatch.setattr("sys.stdin", io.StringIO("| Am7 | D7 |\n\n"))
    assert main([*CAPTURED, "--type"]) == (130 if isinstance(stop, KeyboardInterrupt) else 3)
    assert len(load(Path("tune.toml")).unfold().melody) == 8, "nobody is asked for chords any more"

    Path("tune.toml").unlink()

    def at_once(asked):
        raise stop

    keyboard.plays = at_once
    assert main(CAPTURED) == (130 if isinstance(stop, KeyboardInterrupt) else 3)
    assert not Path("tune.toml").exists()


def test_where_nothing_is_played_nothing_is_written(keyboard, here, capsys):
    keyboard.plays = lambda asked: begun(asked).advance(100.0, [])
    assert main(CAPTURED) == 2
    assert capsys.readouterr().err == "companion: no note was played; play the melody after the count-in\n"


@pytest.mark.parametrize(
    ("words", "plan", "head"),
    [
        ("", CaptureSettings(Metre(), None, 2, None, True), ("Untitled", 64, 0, False, 120.0, "swing")),
        (
            "--title Mine --metre 3/4 --key Fm --feel straight --tempo 90 --bars 16 --count-in 1",
            CaptureSettings(Metre(3, 4), 90.0, 1, 16, True),
            ("Mine", 16, -4, True, 90.0, "straight"),
        ),
    ],
)
def test_the_take_is_kept_under_an_empty_chart_of_what_is_known(keyboard, here, words, plan, head):
    main(["chart", "capture", *words.split()])
    (asked,) = keyboard.asked
    chart = asked.chart
    assert asked.more["rehearsal"].plan == plan
    bars = len(chart.unfold().bars)
    assert (chart.title, bars, chart.fifths, chart.minor, chart.tempo, chart.feel) == head
    assert [span.chord.symbol for span in chart.unfold().chords] == ["N.C."] and chart.metre == plan.metre
    assert float(chart.unfold().length) == bars * float(plan.metre.bar)
