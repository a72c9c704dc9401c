"""``companion print`` as a shell sees it."""

from __future__ import annotations

import re
import wave
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import fromstring

import mido
import pytest

from companion import cli
from companion.cli.progress import Progress
from companion.load import load
from companion.messages import Beat, Heard, Part
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.settings import Settings
from companion.stage.take_writer import TakeWriter
from tests.practice.test_judged_bars import BAD
from tests.practice.test_partner import TUNE, WALK, take_of
from tests.practice.test_proposal import LINE

CHART = "two-spoons-short"


@pytest.mark.parametrize("suffix", ["musicxml", "mxl"])
def test_the_lead_sheet_opens_again_as_a_chart(suffix: str, tmp_path: Path) -> None:
    out = tmp_path / f"sheet.{suffix}"
    assert cli.main(["print", CHART, "--lead", "--out", str(out)]) == 0
    assert load(out).title == "Two Spoons Short"


def test_one_hand_alone_is_one_staff(tmp_path: Path) -> None:
    for hand, sign in (("left", "F"), ("right", "G")):
        out = tmp_path / f"{hand}.musicxml"
        assert cli.main(["print", CHART, "--hand", hand, "--out", str(out)]) == 0
        text = out.read_text(encoding="utf-8")
        assert text.count("<clef") == 1 and f"<sign>{sign}</sign>" in text


def test_the_midi_file_holds_the_parts_that_were_asked_for(tmp_path: Path) -> None:
    out = tmp_path / "bass.mid"
    assert cli.main(["print", CHART, "--hand", "left", "--treatment", "walking", "--seed", "3", "--out", str(out)]) == 0
    notes = {track.name: [m.note for m in track if m.type == "note_on"] for track in mido.MidiFile(out).tracks}
    assert {name for name, found in notes.items() if found} <= {"bass", "chords"} and len(notes["bass"]) > 100
    assert max(notes.get("chords", [0])) < 64, "of the chords, only what the left hand takes"


@pytest.mark.slow
def test_the_wav_lasts_as_long_as_the_form(tmp_path: Path) -> None:
    out = tmp_path / "tune.wav"
    assert cli.main(["print", CHART, "--out", str(out)]) == 0
    with wave.open(str(out)) as sound:
        form = load(Path(__file__).parents[2] / "charts" / f"{CHART}.toml").unfold()
        assert sound.getnframes() / sound.getframerate() > 0.9 * float(form.length) * 60 / form.tempo


def test_several_pages_are_numbered_and_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("verovio", reason="the extra print isn't installed")
    assert cli.main(["print", "ferry-without-lights", "--out", str(tmp_path / "ferry.svg")]) == 0
    made = sorted(path.name for path in tmp_path.iterdir())
    assert len(made) > 1 and made == [f"ferry-{page}.svg" for page in range(1, len(made) + 1)]
    places, _, what = capsys.readouterr().out.partition(": ")
    assert [Path(place).name for place in places.split(", ")] == made
    assert what == f"Ferry Without Lights, both hands, {len(made)} pages\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--lead", "--out", "sheet.musicxml"], "Two Spoons Short, the lead sheet, for a notation program"),
        (["--hand", "left", "--out", "sheet.mxl"], "Two Spoons Short, the left hand, for a notation program"),
        (["--out", "sheet.mid"], "Two Spoons Short, both hands, as MIDI"),
    ],
)
def test_what_was_written_is_said_in_a_line(
    words: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert cli.main(["print", CHART, *words]) == 0
    assert capsys.readouterr().out == f"{words[-1]}: {said}\n"
    assert (tmp_path / words[-1]).is_file()


@pytest.mark.parametrize(("words", "size"), [([], "210mm"), (["--paper", "letter"], "215.9mm")])
def test_the_paper_is_a4_unless_letter_is_asked_for(words: list[str], size: str, tmp_path: Path) -> None:
    # ISO 216 and ANSI/ASME Y14.1.
    pytest.importorskip("verovio", reason="the extra print isn't installed")
    out = tmp_path / "sheet.svg"
    assert cli.main(["print", CHART, "--lead", *words, "--out", str(out)]) == 0
    assert f'<svg width="{size}"' in out.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--out", "tune.docx"], "tune.docx: that suffix can't be printed; end it with .pdf"),
        (["--out", "nowhere/tune.pdf"], "its folder isn't there"),
        (["--out", "tune.pdf", "--treatment", "loudly"], "there is no treatment called 'loudly'"),
        (["--out", "tune.pdf", "--lead", "--hand", "left"], "not allowed with argument --lead"),
        (
            ["--out", "tune.pdf", "--lead", "--treatment", "walking"],
            "a lead sheet has no treatment; leave out",
        ),
        (["--out", "tune.pdf", "--paper", "a5"], "--paper: there is no 'a5'"),
        ([], "--out"),
    ],
)
def test_wrong_words_get_one_line_and_status_2(
    words: list[str], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert cli.main(["print", CHART, *words]) == 2
    error = capsys.readouterr().err
    assert said in error and error.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_the_chart_itself_is_never_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "sheet.musicxml"
    assert cli.main(["print", CHART, "--lead", "--out", str(out)]) == 0
    before = out.read_bytes()
    assert cli.main(["print", str(out), "--out", str(out)]) == 2
    assert out.read_bytes() == before


def test_a_treatment_that_a_section_or_the_order_misspells_is_said_with_its_place(tmp_path: Path, capsys) -> None:
    text = chart_path("ferry-without-lights").read_text(encoding="utf-8")
    chart, out = tmp_path / "ferry.toml", tmp_path / "ferry.mid"
    for said, place in (('"solos"', "order, event 3"), ('"walking"', "section A1")):
        chart.write_text(text.replace(f"treatment = {said}", 'treatment = "walkin"', 1), encoding="utf-8")
        assert cli.main(["print", str(chart), "--out", str(out)]) == 2 and not out.exists()
        fault = f"{chart}: {place}: there is no treatment 'walkin'; did you mean 'walking'?"
        assert capsys.readouterr().err == f"companion: {fault}\n"


@pytest.fixture
def played_badly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for user data with a take in which bar 2 went wrong the second time."""
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))
    take_of(tmp_path / "data", [LINE, BAD], you="melody")
    return tmp_path / "data"


def said_over_bars(path: Path) -> dict[str, str]:
    """Words in small type by the number of their bar."""
    bars = fromstring(path.read_text(encoding="utf-8")).iter("measure")
    words = ((bar.get("number", ""), found) for bar in bars for found in bar.iter("words"))
    return {number: str(found.text) for number, found in words if found.get("font-size")}


def test_what_a_review_finds_in_a_take_stands_over_its_bars_on_paper(played_badly: Path, tmp_path: Path) -> None:
    out = tmp_path / "played.musicxml"
    assert cli.main(["print", "last", "--out", str(out)]) == 0
    said = said_over_bars(out)
    assert list(said) == ["6"] and "missed" in said["6"] and "bar" not in said["6"]
    assert cli.main(["print", "last", "--lead", "--out", str(out), "--force"]) == 0
    assert said_over_bars(out) == said


def test_remarks_are_looked_for_in_all_bars_of_what_was_played(
    played_badly: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[int, bool]] = []

    def take_remarks(take: Any, bars: int, *, pickup: bool) -> dict[int, str]:
        asked.append((bars, pickup))
        return {}

    monkeypatch.setattr("companion.practice.remarks.take_remarks", take_remarks)
    assert cli.main(["print", "last", "--out", str(tmp_path / "played.musicxml")]) == 0
    assert asked == [(8, False)], "twice four bars, without a pickup"


def test_remarks_are_left_out_where_that_is_wished(played_badly: Path, tmp_path: Path) -> None:
    out = tmp_path / "played.musicxml"
    assert cli.main(["print", "last", "--no-remarks", "--out", str(out)]) == 0
    assert said_over_bars(out) == {}


def test_remarks_on_pages_are_smaller_than_other_words(played_badly: Path, tmp_path: Path) -> None:
    pytest.importorskip("verovio", reason="the extra print isn't installed")
    out = tmp_path / "played.svg"
    assert cli.main(["print", "last", "--out", str(out)]) == 0
    svg = out.read_text(encoding="utf-8")
    remarks = re.findall(r'<g id="[^"]*" class="dir">.*?font-size="([1-9]\d*)px">', svg, re.DOTALL)
    symbols = re.findall(r'<g id="[^"]*" class="harm">.*?font-size="([1-9]\d*)px">', svg, re.DOTALL)
    assert remarks and max(map(int, remarks)) < 0.8 * min(map(int, symbols))
    assert "\u2060" not in svg, "what tells the engraver is not printed"


def test_remarks_on_a_chart_are_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status = cli.main(["print", "two-spoons-short", "--remarks", "--out", str(tmp_path / "a.musicxml")])
    assert status == 2 and "remarks are made on a take" in capsys.readouterr().err


def test_most_of_the_work_on_a_pdf_is_engraving_its_pages(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shown: list[float] = []
    monkeypatch.setattr(Progress, "show", lambda self, done: shown.append(round(done, 3)))

    def pages(sheet: Any, paper: Any, *, progress: Callable[[float], None]) -> list[str]:
        for share in (0.0, 0.5, 1.0):
            progress(share)
        return ["<svg/>"]

    def pdf(svgs: list[str], title: str, paper: Any, *, progress: Callable[[float], None]) -> bytes:
        for share in (0.0, 0.5, 1.0):
            progress(share)
        return b"%PDF"

    monkeypatch.setattr("companion.engrave.page.pages", pages)
    monkeypatch.setattr("companion.engrave.page.pdf", pdf)
    out = tmp_path / "sheet.pdf"
    assert cli.main(["print", CHART, "--lead", "--out", str(out)]) == 0
    assert shown == [0.0, 0.4, 0.8, 0.8, 0.9, 1.0]
    assert capsys.readouterr().out == f"{out}: Two Spoons Short, the lead sheet, 1 page\n"


@pytest.mark.parametrize(("you", "clefs"), [("bass", ["F"]), ("melody", ["G"])])
def test_a_take_is_printed_on_the_staff_of_the_hand_that_played(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, you: Part, clefs: list[str]
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))
    take_of(tmp_path / "data", [LINE if you == "melody" else WALK], you=you)
    out = tmp_path / "played.musicxml"
    assert cli.main(["print", "last", "--out", str(out)]) == 0
    assert re.findall("<sign>(.)</sign>", out.read_text(encoding="utf-8")) == clefs
    assert cli.main(["print", "last", "--hand", "right", "--out", str(out), "--force"]) == 0
    assert re.findall("<sign>(.)</sign>", out.read_text(encoding="utf-8")) == ["G"]


ENDING = """format = 1
title = "Four"
key = "C"
tempo = 100
order = [{ play = "head" }, { play = "ending", how = "tag" }]
[section.A]
chords = "| Dm7 | G7 | Cmaj7 | % |"
melody = "| d8 | f8 | e8 | c8 |"
"""


@pytest.mark.parametrize(("words", "slows"), [(["--lead"], False), ([], True)])
def test_a_lead_sheet_is_heard_once_in_one_tempo_and_the_whole_tune_slows_at_its_end(
    words: list[str], slows: bool, tmp_path: Path
) -> None:
    tune, out = tmp_path / "four.toml", tmp_path / "four.mid"
    tune.write_text(ENDING, encoding="utf-8")
    assert cli.main(["print", str(tune), *words, "--out", str(out)]) == 0
    tracks = {track.name: list(track) for track in mido.MidiFile(out).tracks}
    melody = [m.note for m in tracks["melody"] if m.type == "note_on" and m.velocity]
    assert melody[:4] == [74, 77, 76, 72] and (len(melody) > 4) is slows
    assert (sum(m.type == "set_tempo" for m in tracks["Four"]) > 1) is slows


def test_where_both_hands_played_both_staves_are_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))
    writer = TakeWriter(TUNE, Settings(you=frozenset({"melody", "bass"}), parts=("click",)), tmp_path / "data")
    for beat, keys in enumerate(zip(LINE, WALK, strict=True)):
        at = 1.0 + beat / 2
        writer.add(Beat(float(beat), at, 1.0, 1))
        for midi in (key for key in keys if key is not None):
            writer.add(Heard(at, 0x90, midi, 80))
            writer.add(Heard(at + 0.45, 0x80, midi, 0))
    writer.close("ended")
    out = tmp_path / "played.musicxml"
    assert cli.main(["print", "last", "--out", str(out)]) == 0
    assert re.findall("<sign>(.)</sign>", out.read_text(encoding="utf-8")) == ["G", "F"]
