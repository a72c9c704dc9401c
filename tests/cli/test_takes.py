"""What was kept can be listed, looked at, heard, printed, played again and deleted, each by a word."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
import sys
import wave
from dataclasses import asdict
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from companion.errors import DeviceError
from companion.load import load
from companion.pianist.player import simulate
from companion.practice.records import Records
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.demo import perform
from companion.stage.sending_figures import SendingFigures
from companion.stage.settings import Settings
from companion.stage.take import Take, list_takes
from tests.practice.test_partner import WALK, take_of

CHART = "two-spoons-short"


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with one take: a blues, its melody played by the built-in pianist."""

    data = tmp_path_factory.mktemp("evening")
    chart = load(chart_path(CHART))
    player = simulate(chart.unfold(), frozenset({"melody"}), choruses=2, seed=5, manner="human")
    settings = Settings(tempo=player.tempo, start=player.start, count_in=2, choruses=2)
    perform(chart, settings, player, fast=True, data=data)
    return data


@pytest.fixture
def data(evening: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run) -> Path:
    """The same, for one test to change."""
    shutil.copytree(evening, tmp_path / "data", dirs_exist_ok=True)
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))
    return tmp_path / "data"


def test_the_list_says_when_what_how_long_and_how_it_ended(run, data):
    status, out, err = run("take", "list")
    row = out.splitlines()[1].split()
    assert (status, err) == (0, "")
    assert row[0] == "1" and "Two Spoons Short" in out and row[-2:] == ["melody", "ended"]


def test_without_a_take_the_list_says_how_to_get_one(run):
    status, out, _ = run("take", "list")
    assert status == 0 and "companion play CHART" in out


def test_a_damaged_take_is_listed_with_its_reason(run, data):
    (folder,) = (data / "takes").iterdir()
    (folder / "take.json").write_text("{", encoding="utf-8")
    status, out, _ = run("take", "list")
    assert status == 0 and "can't be read" in out and "take.json" in out


def test_showing_one_counts_its_notes_and_choruses_and_names_what_comes_next(run, data):
    status, out, _ = run("take", "show", "last")
    assert status == 0
    assert "your notes: " in out and "chorus 2: " in out and "companion print last --out FILE.pdf" in out


def test_what_was_played_is_printed_on_the_staff_of_the_hand_that_played(run, data, tmp_path):
    out = tmp_path / "played.musicxml"
    status, _, err = run("print", "last", "--out", out)
    assert (status, err) == (0, "")
    text = out.read_text(encoding="utf-8")
    assert text.count("<clef") == 1 and "<sign>G</sign>" in text
    assert len(load(out).unfold().bars) == 24


def test_it_becomes_a_chart_among_the_players_own(run, data):
    status, out, _ = run("chart", "import", "last")
    assert status == 0
    made = Path(out.split(": ")[0])
    assert made.parent == data / "charts" and load(made).title.startswith("Two Spoons Short, as played")


def test_it_is_replayed_with_its_own_settings_but_for_what_is_said(run, data, tmp_path):
    same, other = tmp_path / "same.csv", tmp_path / "other.csv"
    assert run("replay", "last", "--beats", same, "--out", tmp_path / "same.mid")[0] == 0
    assert run("replay", "last", "--beats", other, "--time", "steady", "--parts", "bass")[0] == 0
    beats = [line.split(",") for line in same.read_text().splitlines()[1:]]
    (take,) = list_takes()
    kept = [beat.seconds for beat in take.beats]
    assert [float(row[1]) for row in beats[: len(kept)]] == pytest.approx(kept, abs=0.003)
    assert same.read_text() != other.read_text()


@pytest.mark.parametrize("wishes", [None, [], [{"seconds": 12.0, "name": "stop", "value": None}]])
def test_what_was_wished_in_a_take_is_wished_again(run, data, tmp_path, wishes: list[dict[str, Any]] | None):
    (file,) = data.glob("takes/*/take.json")
    described = json.loads(file.read_text(encoding="utf-8"))
    described.pop("wishes", None)  # as in takes of former versions
    file.write_text(json.dumps(described if wishes is None else described | {"wishes": wishes}), encoding="utf-8")
    beats = tmp_path / "beats.csv"
    status, _, err = run("replay", "last", "--beats", beats)
    assert (status, err) == (0, "")
    last = float(beats.read_text(encoding="utf-8").splitlines()[-1].split(",")[1])
    assert (last < 13) is bool(wishes)


def test_the_latency_of_a_take_is_its_own_unless_it_is_said(data):
    from companion.cli.commands import build_parser
    from companion.cli.words import settings_like
    from companion.stage.settings import Settings

    taken = Settings(latency=0.035, time="patient", you=frozenset({"melody"}))
    said = build_parser().parse_args(["replay", "last"])
    assert settings_like(taken, said) == taken
    said = build_parser().parse_args(["replay", "last", "--latency", "20", "--trade", "4"])
    other = settings_like(taken, said)
    assert (other.latency, other.trade, other.you) == (0.02, 4, {"solo"})


def test_a_chart_alone_is_not_enough_to_replay(run, one_line):
    status, _, err = run("replay", CHART)
    assert status == 2 and "PERFORMANCE" in one_line(err)


def test_a_take_is_rendered_from_a_moment_on_and_by_its_voices(run, data, tmp_path):
    whole, part = tmp_path / "whole.wav", tmp_path / "part.wav"
    assert run("take", "play", "last", "--wav", whole)[0] == 0
    status, out, _ = run("take", "play", "last", "--from", "10", "--only", "you,bass", "--wav", part)
    assert status == 0 and str(part) in out
    with wave.open(str(whole)) as one, wave.open(str(part)) as other:
        apart = (one.getnframes() - other.getnframes()) / one.getframerate()
        assert 9 < apart < 14, "what lies before the moment is left out, not silent"
        frames = np.frombuffer(other.readframes(3 * other.getframerate()), np.int16)
    assert np.abs(frames).max() > 300, "and it sounds within three seconds"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("play", "last", "--only", "drums"), "drums"),
        (("play", "last", "--from", "4000"), "the take lasts"),
        (("show", "9"), "there is no take 9"),
        (("show", "ferry"), "take list"),
        (("delete", "9", "--yes"), "there is no take 9"),
    ],
)
def test_a_word_that_cant_be_meant_is_one_line(run, data, one_line, words, said):
    status, _, err = run("take", *words)
    assert status == 2 and said in one_line(err)


def test_deleting_asks_first_and_no_answer_deletes_nothing(run, data, monkeypatch):
    (folder,) = (data / "takes").iterdir()
    for answer, status in (("\n", 0), ("no\n", 0), ("", 2)):
        monkeypatch.setattr("sys.stdin", io.StringIO(answer))
        assert run("take", "delete", "last")[0] == status and folder.is_dir()
    monkeypatch.setattr("sys.stdin", io.StringIO("y\n"))
    assert run("take", "delete", "last")[0] == 0 and not folder.exists()


def test_a_take_that_the_player_deletes_leaves_the_records_too(run, data):
    run("today")
    with Records(data) as records:
        assert len(records.takes()) == 1
    assert run("take", "delete", "last", "--yes")[0] == 0
    with Records(data) as records:
        assert records.takes() == []
    run("today")
    with Records(data) as records:
        assert records.takes() == []


def test_a_folder_that_holds_more_than_a_take_is_not_deleted(run, data, one_line):
    (folder,) = (data / "takes").iterdir()
    (folder / "thoughts.txt").write_text("bar 9!", encoding="utf-8")
    status, _, err = run("take", "delete", "last", "--yes")
    assert status == 2 and "thoughts.txt" in one_line(err) and folder.is_dir()


def test_a_take_sounds_again_on_an_instrument_and_nothing_is_left_on(shell, data, instrument):
    (take,) = list_takes()
    upright, begin = instrument("upright"), take.seconds - 4
    played = shell("take", "play", "last", "--from", begin, "--port", "ears")
    assert played.returncode == 0, played.stderr
    mine = [e.data1 for e in take.heard() if e.is_note_on and e.seconds >= begin]
    theirs = [o.data1 for o in take.sounded() if o.status == 0x90 and o.data2 and o.seconds >= begin]
    assert mine and theirs and sorted(upright.notes_on()) == sorted([*mine, *theirs])
    assert not upright.sounding()


ELSEWHERE = """
import time
from companion.ports.binding import binding
ears = binding().listener("jack", "upright")
ears.listen(lambda delta, message: print("heard", flush=True))
ears.handle.open_virtual_port("ears")
print("open", flush=True)
time.sleep(60)
"""
"""An instrument in a process of its own: what dies with it is all that it had, as when a cable is pulled."""


def test_a_take_ends_with_one_line_when_its_instrument_goes_away(data, jack_server, one_line):
    upright = subprocess.Popen([sys.executable, "-c", ELSEWHERE], stdout=subprocess.PIPE, text=True)
    assert upright.stdout.readline() == "open\n"
    words = [sys.executable, "-m", "companion", "take", "play", "last", "--from", "20", "--port", "ears"]
    playing = subprocess.Popen(words, stderr=subprocess.PIPE, text=True)
    assert upright.stdout.readline() == "heard\n"
    upright.kill()
    upright.wait()
    upright.stdout.close()
    _, said = playing.communicate(timeout=30)  # a good half minute of the take is left: it isn't played out
    assert playing.returncode == 3
    assert "went away" in one_line(said.split("Ctrl-C ends\n")[1])


# In full, of takes that are made by hand


SHOWN = """\
Four Steps, {day}, {at}, 0:17; it came to its end{kept}
you: bass; the companion: click; time: follow
your notes: 32, from D2 to A3
the bass: 8 of the bass of 8 chords within half a beat of their place
on the beat: 30 notes, at the median 10 ms before it, 8 of 10 from −10 to +10 ms
tempo: 120 quarters a minute
touch: velocity 80 at the median, 8 of 10 notes from 80 to 80
the companion's notes: click 32
chorus 1: 16 beats at about 120 a minute, 99 % sure of the place
chorus 2: 16 beats at about 120 a minute, 99 % sure of the place
what next:
  companion take play 1              hear it (--wav FILE.wav: as a file)
  companion print 1 --out FILE.pdf   your notes on paper
  companion chart import 1           your notes as a chart, to learn or to change
  companion replay 1 --out FILE.mid  play it to the companion again, with other settings
it lies in {folder}
"""


@pytest.fixture
def walked(tmp_path: Path, run) -> Take:
    """A take in which the player walked twice over four bars."""
    return take_of(tmp_path / "data", [WALK, WALK])


@pytest.mark.parametrize("kept", ["", "; you marked it to be kept"])
def test_all_that_is_said_of_a_take(run, walked: Take, kept: str) -> None:
    if kept:
        described = json.loads((walked.folder / "take.json").read_text(encoding="utf-8"))
        (walked.folder / "take.json").write_text(json.dumps(described | {"kept": True}), encoding="utf-8")
    day, at = f"{walked.started:%A %d %B %Y}", f"{walked.started:%H:%M}"
    assert run("take", "show", 1) == (0, SHOWN.format(day=day, at=at, kept=kept, folder=walked.folder), "")
    row = f"  1  {walked.started:%Y-%m-%d %H:%M}  Four Steps      0:17  bass                  ended"
    head = "     played            tune            long  you                   how it ended"
    assert run("take", "list")[1].splitlines() == [head, row + (", to be kept" if kept else "")]


def changed(take: Take, **more: Any) -> None:
    """The take's description says something else."""
    file = take.folder / "take.json"
    described = json.loads(file.read_text(encoding="utf-8"))
    file.write_text(json.dumps(described | more), encoding="utf-8")


def test_each_time_through_has_its_own_beats(run, tmp_path: Path) -> None:
    take_of(tmp_path / "data", [WALK, WALK[:5]])
    lines = run("take", "show", "last")[1].splitlines()
    assert [line.partition(" at about")[0] for line in lines if line.startswith("chorus")] == [
        "chorus 1: 16 beats",
        "chorus 2: 5 beats",
    ]


def test_what_isnt_there_is_left_out_of_what_is_said(run, tmp_path: Path) -> None:
    take = take_of(tmp_path / "data", [[36]])
    lines = run("take", "show", "last")[1].splitlines()
    assert "chorus 1: 1 beat, 99 % sure of the place" in lines, "a beat alone has no tempo"
    assert not any(line.startswith("the companion's messages") for line in lines)
    changed(take, settings={"you": [], "parts": []}, chart={"source": None, "toml": "format = 99\n"})
    lines = run("take", "show", "last")[1].splitlines()
    assert lines[1] == "you: nothing; the companion: nothing; time: follow"
    assert lines[2:4] == ["your notes: 1, from C2 to C2", "the companion's notes: click 1"], "no chart, no tally"


def test_how_punctual_the_companion_was_is_said_where_it_is_known(run, walked: Take) -> None:
    figures = SendingFigures(64, 0.05, 0.4)
    changed(walked, sending=asdict(figures))
    lines = run("take", "show", "last")[1].splitlines()
    assert lines[lines.index("what next:") - 1] == f"the companion's messages: {figures}"


def test_a_damaged_take_is_called_by_what_its_folder_says(run, walked: Take) -> None:
    (walked.folder / "take.json").write_text("{", encoding="utf-8")
    (row,) = run("take", "list")[1].splitlines()[1:]
    assert re.fullmatch(r"  1  [\d :-]{16}  four-steps  can't be read: .+", row)


# Sounded again, on what stands in for an instrument


class Sound:
    """What a take sounds on; it can be taken away."""

    port = "module"

    def __init__(self) -> None:
        self.ended = False

    def end(self) -> None:
        self.ended = True


@pytest.mark.parametrize(
    ("what", "status", "said"),
    [(None, 0, ""), ("sounds", 0, ""), ("lost", 3, "module"), ("gone", 3, "module"), ("died", 3, "the sound")],
)
def test_a_take_sounds_again_to_its_end_or_until_what_it_sounds_on_goes_away(
    run, walked: Take, monkeypatch, what: str | None, status: int, said: str
) -> None:
    sound, played = Sound(), []

    def open_sound(port: str | None, *, notify: Any, title: str, ask: Any) -> tuple[Sound, dict[str, int]]:
        played.append((port, title, ask))
        sound.notify = notify  # type: ignore[attr-defined]
        return sound, {"bass": 2}

    def play_take(take: Take, on: Sound, channels: dict[str, int], *, begin: float, parts: Any, watch: Any) -> None:
        played.append((take.title, on is sound, channels, begin, parts))
        watch(1.0)
        if what:
            on.notify(SimpleNamespace(what=what, more={} if what == "died" else {"port": "module"}))
        watch(2.0)

    monkeypatch.setattr("companion.stage.demo.open_sound", open_sound)
    monkeypatch.setattr("companion.stage.take_playing.play_take", play_take)
    found, out, err = run("take", "play", 1, "--port", "mod")
    assert (found, out) == (status, "") and sound.ended
    first, *rest = err.splitlines()
    assert first == "Four Steps, 0:17, on module; Ctrl-C ends"
    assert rest == ([f"companion: {said} went away; plug it in and start again"] if said else [])
    assert played == [("mod", "Four Steps", None), ("Four Steps", True, {"bass": 2}, 0.0, None)]


@pytest.mark.parametrize(
    ("words", "mend"),
    [((), "name a MIDI port with --port, or render it with --wav FILE.wav"), (("--port", "mod"), "plug it in")],
)
def test_where_there_is_nothing_to_sound_it_on_it_is_said_what_else_can_be_done(
    run, walked: Take, monkeypatch, words: tuple[str, ...], mend: str
) -> None:
    def open_sound(port: str | None, **_: Any) -> None:
        raise DeviceError("there is no sound", mend="plug it in")

    monkeypatch.setattr("companion.stage.demo.open_sound", open_sound)
    status, _, err = run("take", "play", 1, *words)
    assert (status, err) == (3, f"companion: there is no sound; {mend}\n")


def test_trouble_with_the_records_is_told_though_the_take_is_gone(run, walked: Take, monkeypatch) -> None:
    monkeypatch.setattr("companion.practice.taken_out.delete_take", lambda folder: "the records are locked")
    expected = (0, f"deleted {walked.folder}\n", "companion: the records are locked\n")
    assert run("take", "delete", 1, "--yes") == expected


def test_the_list_has_twenty_takes_unless_it_is_said_otherwise(run, walked: Take) -> None:
    for number in range(21):
        shutil.copytree(walked.folder, walked.folder.with_name(f"2026-01-01-{1000 + number}-four-steps"))
    for words, rows, more in (
        ((), 20, ["and 2 more: --all shows them"]),
        (("--all",), 22, []),
        (("--most", 22), 22, []),
        (("--most", 1), 1, ["and 21 more: --all shows them"]),
    ):
        lines = run("take", "list", *words)[1].splitlines()
        assert len(lines) == 1 + rows + len(more) and lines[1 + rows :] == more
        assert [line.split()[0] for line in lines[1 : 1 + rows]] == [str(number + 1) for number in range(rows)]


@pytest.mark.parametrize(("begin", "status"), [("-0.1", 2), ("0", 0), ("16.9", 0), ("17", 2)])
def test_a_take_is_heard_from_within_it(run, walked: Take, tmp_path: Path, begin: str, status: int) -> None:
    wav = tmp_path / "part.wav"
    found, out, err = run("take", "play", 1, f"--from={begin}", "--wav", wav)
    assert found == status
    if status:
        assert err == "companion: the take lasts 0:17; give --from 0 to 17\n"
    else:
        assert re.fullmatch(rf"{wav}: 0:{'17' if begin == '0' else '00'} of Four Steps \(.+\)\n", out)


def test_from_a_moment_on_everything_sounds_as_long_after_it_as_in_the_take(
    run, walked: Take, tmp_path: Path, monkeypatch
) -> None:
    """What begins at that very moment as well; a take that begins where it ends is none."""
    rendered: list[list[tuple[float, int]]] = []

    def render(path: Path, heard: Any, orders: Any, *, progress: Any) -> str:
        rendered.extend([(one.seconds, one.data1) for one in some] for some in (heard, orders))
        path.write_bytes(b"")
        return "nothing"

    monkeypatch.setattr("companion.ports.wav.render", render)
    begin = [one.seconds for one in walked.sounded() if one.status == 0x90][-2]
    assert run("take", "play", 1, f"--from={begin}", "--wav", tmp_path / "end.wav")[0] == 0
    assert rendered == [
        [(one.seconds - begin, one.data1) for one in walked.heard() if one.seconds >= begin],
        [(one.seconds - begin, one.data1) for one in walked.sounded() if one.seconds >= begin],
    ]
    begin = walked.heard()[-3].seconds
    assert run("take", "play", 1, f"--from={begin}", "--wav", tmp_path / "end.wav", "--only", "you")[0] == 0
    assert rendered[2:] == [[(one.seconds - begin, one.data1) for one in walked.heard()[-3:]], []]
    assert run("take", "play", 1, f"--from={walked.seconds}", "--wav", tmp_path / "end.wav")[0] == 2


def sound_of(path: Path) -> np.ndarray:
    with wave.open(str(path)) as sound:
        return np.frombuffer(sound.readframes(sound.getnframes()), np.int16)


def test_who_isnt_named_isnt_heard(run, walked: Take, tmp_path: Path) -> None:
    sounds = {}
    for only in ("you", "click", "you,click", " You "):
        assert run("take", "play", 1, "--from", 15, "--only", only, "--wav", tmp_path / "some.wav", "--force")[0] == 0
        sounds[only] = sound_of(tmp_path / "some.wav").tobytes()
    assert len({sounds["you"], sounds["click"], sounds["you,click"]}) == 3 and sounds[" You "] == sounds["you"]


def test_who_isnt_asked_deletes_nothing_and_is_told_how(run, walked: Take, monkeypatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    status, out, err = run("take", "delete", 1)
    asked = f"delete {walked.folder} for good? [y/N] "
    assert (status, out) == (2, "") and err == (
        f"{asked}companion: there is nobody to ask; say --yes to delete it all the same\n"
    )
    monkeypatch.setattr("sys.stdin", io.StringIO("n\n"))
    assert run("take", "delete", 1) == (0, "", f"{asked}nothing is deleted\n")
    assert run("take", "delete", 1, "--yes") == (0, f"deleted {walked.folder}\n", "")
    assert not walked.folder.exists()
