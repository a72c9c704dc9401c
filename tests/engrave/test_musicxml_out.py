"""What a lead sheet holds comes back from its MusicXML as it was."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import groupby, pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from companion.arrange.plan import arrange
from companion.chart.model import Chart, ChordSpan, Form, MelodyNote, Section
from companion.chart.musicxml.read import read_musicxml
from companion.engrave.musicxml_notes import quality
from companion.engrave.musicxml_out import compressed, musicxml
from companion.engrave.score import lead_sheet
from companion.engrave.sheet import Sheet
from companion.load import load
from companion.music.chords import Chord, parse_chord
from companion.music.meter import Metre
from companion.music.pitch import Pitch, pitch_in_key


def and_back(chart: Chart, folder: Path) -> Chart:
    path = folder / "sheet.musicxml"
    path.write_text(musicxml(lead_sheet(chart)), encoding="utf-8")
    return read_musicxml(path)


def changes(form: Form) -> list[tuple[Fraction, Chord]]:
    """Where the harmony changes; a symbol that only says again what rules already isn't one."""
    return [next(same) for _, same in groupby(((s.start, s.chord) for s in form.chords), key=lambda pair: pair[1])]


def test_every_shipped_chart_comes_back_as_it_was(shipped: Chart, tmp_path: Path) -> None:
    again = and_back(shipped, tmp_path)
    assert (again.title, again.composer) == (shipped.title, shipped.composer)
    before, after = shipped.unfold(), again.unfold()
    for what in ("metre", "fifths", "minor", "tempo", "feel", "length", "bars", "melody"):
        assert getattr(after, what) == getattr(before, what), what
    assert changes(after) == changes(before)
    assert [place.start for place in after.sections] == [place.start for place in before.sections]


def test_the_melody_is_found_again_among_the_chords_of_an_arrangement(
    shipped: Chart, arranged: Callable[[Chart], Sheet], tmp_path: Path
) -> None:
    path = tmp_path / "both-hands.musicxml"
    path.write_text(musicxml(arranged(shipped)), encoding="utf-8")
    form, again = shipped.unfold(), read_musicxml(path).unfold()
    played = arrange(form, "melody")
    assert [(n.beat, n.pitch) for n in again.melody] == [(n.beat, n.pitch) for n in played]
    assert changes(again) == changes(form)


def test_sections_keep_their_names_where_each_name_means_one_thing(ferry: Chart, tmp_path: Path) -> None:
    assert and_back(ferry, tmp_path).form == ferry.form


SYMBOLS = [
    "C", "Dm7", "G7", "Ebmaj7", "F#m7b5", "Bb13", "A7alt", "D7b9", "Gm6", "C7sus4", "Abmaj7#11", "E7#9", "Bdim7",
    "F9sus4", "Cm(maj7)", "G7/B", "Db6/9", "N.C.",
]  # fmt: skip


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    metre = draw(st.sampled_from([Metre(4, 4), Metre(3, 4), Metre(6, 8), Metre(5, 4)]))
    fifths, minor = draw(st.integers(-6, 6)), draw(st.booleans())
    count = draw(st.integers(1, 6))
    unit = draw(st.sampled_from([Fraction(1, 2), Fraction(1, 3), Fraction(1, 4)]))
    length = count * metre.bar
    low = -draw(st.integers(0, 2)) * unit
    cuts = sorted(draw(st.sets(st.integers(int(low / unit), int(length / unit)), min_size=2, max_size=20)))
    melody = tuple(
        MelodyNote(a * unit, (b - a) * unit, pitch_in_key(draw(st.integers(55, 84)), fifths, minor))
        for a, b in pairwise(cuts)
        if draw(st.integers(0, 3))
    )
    starts = [bar * metre.bar for bar in range(count)]
    symbols = [parse_chord(draw(st.sampled_from(SYMBOLS))) for _ in starts]
    spans = tuple(ChordSpan(a, a + metre.bar, symbol) for a, symbol in zip(starts, symbols, strict=True))
    return Chart(
        title="Kettle at the Ford",
        sections=(Section("A", (metre.bar,) * count, spans, melody),),
        form=("A",),
        metre=metre,
        fifths=fifths,
        minor=minor,
        tempo=float(draw(st.integers(40, 300))),
        feel=draw(st.sampled_from(["swing", "straight", "bossa"])),
    )


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(charts())
def test_any_lead_sheet_comes_back_as_it_was(tmp_path: Path, chart: Chart) -> None:
    before = chart.unfold()
    assume(before.melody or any(span.chord.is_chord for span in before.chords))  # a sheet with nothing on it is refused
    after = and_back(chart, tmp_path).unfold()
    for what in ("metre", "fifths", "minor", "tempo", "feel", "length", "bars", "melody"):
        assert getattr(after, what) == getattr(before, what), what
    assert changes(after) == changes(before)


def test_the_compressed_file_is_the_same_chart_and_the_same_bytes_each_time(ferry: Chart, tmp_path: Path) -> None:
    text = musicxml(lead_sheet(ferry))
    (tmp_path / "sheet.mxl").write_bytes(compressed(text))
    assert compressed(text) == compressed(text)
    assert load(tmp_path / "sheet.mxl").unfold().melody == ferry.unfold().melody


def test_a_tie_over_a_repeat_leads_nowhere_for_the_engraver_and_on_for_everybody_else(tmp_path: Path) -> None:
    early = MelodyNote(Fraction(-1, 2), Fraction(3, 2), Pitch("E", 0, 5))
    late = MelodyNote(Fraction(4), Fraction(2), Pitch("C", 0, 5))
    chart = Chart("Over the Edge", (Section("A", (Fraction(4),) * 4, (), (early, late)),), ("A", "A", "A"))
    sheet = lead_sheet(chart)
    assert any(bar.marks.repeat_end for bar in sheet.bars)
    assert "let-ring" in musicxml(sheet, for_engraver=True) and "let-ring" not in musicxml(sheet)
    assert and_back(chart, tmp_path).unfold().melody == chart.unfold().melody


def test_symbols_are_printed_with_real_flats_and_sharps() -> None:
    assert [quality(parse_chord(s)) for s in ("Am7b5", "D7#9", "Bbmaj7")] == ["m7♭5", "7♯9", "maj7"]
    assert not any("b5" in quality(parse_chord(symbol)) for symbol in SYMBOLS)


def test_a_title_with_signs_of_xml_in_it_is_kept(ferry: Chart, tmp_path: Path) -> None:
    assert and_back(replace(ferry, title='Salt & "Tin" <2>'), tmp_path).title == 'Salt & "Tin" <2>'


@pytest.mark.parametrize(("tempo", "metre"), [(320.0, Metre(4, 4)), (120.0, Metre(12, 8))])
def test_a_swing_tune_whose_quavers_are_even_is_read_back_as_swing(
    ferry: Chart, tempo: float, metre: Metre, tmp_path: Path
) -> None:
    path = tmp_path / "sheet.musicxml"
    path.write_text(musicxml(replace(lead_sheet(ferry), tempo=tempo, metre=metre)), encoding="utf-8")
    assert read_musicxml(path).feel == "swing"
