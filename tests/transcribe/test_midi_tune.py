"""Tunes from Standard MIDI Files: melody, chords, pickup, form, and what is kept as remarks."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import mido
import pytest

from companion.chart.midi.file import read_midi_file
from companion.errors import ChartError
from companion.load import import_file
from companion.music.swing import swing_ratio, to_sounding
from companion.transcribe.midi_tune import own_beats, read_midi

PER = 480


def track(name, timed):
    made, last = mido.MidiTrack([mido.MetaMessage("track_name", name=name)]), 0
    for beat, message in sorted(timed, key=lambda pair: (pair[0], pair[1].type != "note_off")):
        tick = round(beat * PER)
        made.append(message.copy(time=tick - last))
        last = tick
    return made


def line(notes, channel=0, held=1):
    """Notes as (beat, length, pitch)."""
    for beat, length, pitch in notes:
        yield beat, mido.Message("note_on", note=pitch, velocity=70, channel=channel)
        yield beat + length * held, mido.Message("note_off", note=pitch, channel=channel)


def conductor(*more, metre=(4, 4), tempo=120, key=None):
    yield Fraction(0), mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo))
    yield Fraction(0), mido.MetaMessage("time_signature", numerator=metre[0], denominator=metre[1])
    if key:
        yield Fraction(0), mido.MetaMessage("key_signature", key=key)
    yield from more


@pytest.fixture
def save(tmp_path):
    def write(*tracks, kind=1):
        midi = mido.MidiFile(type=kind, ticks_per_beat=PER)
        midi.tracks.extend(tracks)
        midi.save(tmp_path / "tune.mid")
        return tmp_path / "tune.mid"

    return write


@pytest.fixture
def form(stand):
    return stand.tune().unfold()


def tune_of(form, later=Fraction(0)):
    return [(note.beat + later, note.length, note.pitch.midi) for note in form.melody]


def found(imported):
    return [(note.beat, note.length, note.pitch.midi) for note in imported.chart.unfold().melody]


def markers(form, later=Fraction(0), kind="marker"):
    return [(span.start + later, mido.MetaMessage(kind, text=span.chord.symbol)) for span in form.chords]


@pytest.mark.parametrize("kind", ["marker", "text", "lyrics"])
def test_melody_and_chord_words_are_the_chart(save, form, kind):
    path = save(track("", conductor(*markers(form, kind=kind), tempo=96, key="C")), track("Lead", line(tune_of(form))))
    imported = read_midi(path)
    got = imported.chart.unfold()
    assert found(imported) == tune_of(form)
    assert [(s.start, s.end, s.chord) for s in got.chords] == [(s.start, s.end, s.chord) for s in form.chords]
    assert (got.tempo, got.fifths, imported.remarks) == (96, 0, ())


def test_a_pickup_with_which_the_file_begins_is_before_the_first_bar(save, form):
    notes = [(Fraction(0), Fraction(1), 67), *tune_of(form, Fraction(1))]
    path = save(track("", conductor(*markers(form, Fraction(1)))), track("Melody", line(notes)))
    assert found(read_midi(path)) == [(Fraction(-1), Fraction(1), 67), *tune_of(form)]


def test_a_sequencers_swing_is_undone(save, form):
    swung = [(to_sounding(b, 1.7), to_sounding(b + n, 1.7) - to_sounding(b, 1.7), p) for b, n, p in tune_of(form)]
    imported = read_midi(save(track("", conductor()), track("Melody", line(swung, held=0.9))))
    assert found(imported) == tune_of(form) and imported.chart.feel == "swing"


def test_a_recording_that_keeps_no_click_is_quantised_by_its_own_beat(save, form):
    dice, seconds = Random(3), 60 / 138
    played = []
    for beat, length, pitch in tune_of(form):
        on, off = (to_sounding(b, swing_ratio(138)) * seconds * 2 for b in (beat, beat + length))
        played.append((2.7 + on + dice.gauss(0, 0.012), 0.9 * (off - on), pitch))
    imported = read_midi(save(track("", conductor()), track("", line(played))))
    got = found(imported)
    shift = got[0][0] - tune_of(form)[0][0]
    agree = sum((b - shift, p) == (beat, pitch) for (b, _, p), (beat, _, pitch) in zip(got, tune_of(form), strict=True))
    assert agree >= 0.95 * len(got)
    assert imported.chart.tempo == pytest.approx(138, abs=2), "that of the beats that were found, not the file's"
    tempo = f"tempo: {imported.chart.tempo:g}, found in the notes: they don't keep to the file's beats (it says 120)"
    assert str(imported.assumed[0]) == tempo


def test_a_key_that_the_file_gives_as_major_and_the_chords_as_minor_is_said(save, stand):
    form = stand.chart(("| Am6 | Dm7 | E7 | Am6 |", "| A8 | A8 | ^G8 | A8 |")).unfold()
    path = save(track("", conductor(*markers(form), key="C")), track("Lead", line(tune_of(form))))
    said = [str(remark) for remark in read_midi(path).assumed]
    assert said == ["key: A minor: the file says C major, and the chords sound minor"]


def test_a_track_of_chords_is_named_with_the_basss_help(save, stand):
    form = stand.chart(("| Dm7 | G7 | Cmaj7 | C6 |", "| A4 c4 | B8 | G4 e4 | c8 |")).unfold()
    shapes = {"Dm7": (53, 57, 60, 64), "G7": (53, 57, 59, 64), "Cmaj7": (52, 55, 59, 62), "C6": (52, 55, 57, 62)}
    chords = [(s.start, s.end - s.start, pitch) for s in form.chords for pitch in shapes[s.chord.symbol]]
    bass = [(s.start, Fraction(4), s.chord.root.pc + 36) for s in form.chords]
    parts = {"Melody": tune_of(form), "Chords": chords, "Bass": bass}
    imported = read_midi(save(track("", conductor()), *(track(name, line(notes)) for name, notes in parts.items())))
    assert [s.chord.symbol for s in imported.chart.unfold().chords] == ["Dm7", "G7", "Cmaj7", "C6"]
    why = "a chart has no bass part; it has told the roots of the chords"
    assert [str(remark) for remark in imported.remarks] == [f"a track that is left out: Bass, 4 notes: {why}"]


SHAPES = {"Dm7": (50, 53, 57, 60), "G7": (55, 59, 62, 65), "Cmaj7": (48, 52, 55, 59), "A7": (57, 61, 64, 67)}
"""Root position."""
CHANGES = ("| Dm7 | G7 | Cmaj7 | A7 |", "| A4 c4 | B8 | G4 e4 | c8 |")


def rolled(form, dice, apart):
    """Chords as hands strike them: each note so many seconds after the one below, at 120 quarters a minute."""
    for span in form.chords:
        late = 0.0
        for pitch in SHAPES[span.chord.symbol]:
            yield float(span.start) + 2 * late, float(span.end - span.start) - 0.25, pitch
            late += dice.uniform(*apart)


@pytest.mark.parametrize("apart", [(0.005, 0.030), (0.030, 0.030), (0.0, 0.008)])
def test_chords_whose_notes_lie_some_milliseconds_apart_are_chords(save, stand, apart):
    """Hands strike the notes of a chord 5 to 30 ms apart (common practice); no track has a name to tell it by."""
    form = stand.chart(CHANGES).unfold()
    chords = track("", line(rolled(form, Random(5), apart), channel=1))
    imported = read_midi(save(track("", conductor()), track("", line(tune_of(form))), chords))
    assert [s.chord.symbol for s in imported.chart.unfold().chords] == ["Dm7", "G7", "Cmaj7", "A7"]
    assert found(imported) == tune_of(form) and not imported.remarks


def test_a_quick_run_is_no_chord(save):
    run = [(Fraction(k, 8), Fraction(1, 8), 60 + k % 7) for k in range(64)]  # at 240: a note every 31 ms
    imported = read_midi(save(track("", conductor(tempo=240)), track("", line(run))))
    assert len(found(imported)) > 60


def test_a_track_that_is_left_out_is_said_so_with_the_reason(save, stand):
    form = stand.chart(CHANGES).unfold()
    chords = track("Piano", line(rolled(form, Random(5), (0.005, 0.03)), channel=1))
    other = track("Flute", line([(n[0], n[1], n[2] - 3) for n in tune_of(form)], channel=2))
    low = track("", line([(Fraction(4 * k), Fraction(4), 36) for k in range(4)], channel=3))
    path = save(track("", conductor(*markers(form))), track("Lead", line(tune_of(form))), chords, other, low)
    assert [str(remark) for remark in read_midi(path).remarks] == [
        "a track that is left out: Piano, 16 notes: the chords are from the file's chord symbols",
        "a track that is left out: Flute, 6 notes: the melody is Lead",
        "a track that is left out: track 5, 4 notes: a chart has no bass part",
    ]


def test_markers_that_are_no_chords_name_the_sections(save, form):
    named = [
        (Fraction(0), mido.MetaMessage("marker", text="Verse")),
        (Fraction(32), mido.MetaMessage("marker", text="A")),
    ]
    imported = read_midi(save(track("", conductor(*named)), track("Melody", line(tune_of(form)))))
    assert imported.chart.form == ("Verse", "A")


def test_the_melody_is_the_track_that_is_asked_for(save, form):
    other = [(note[0], note[1], note[2] + 12) for note in tune_of(form)]
    path = save(track("", conductor()), track("Flute", line(other)), track("Horn", line(tune_of(form))))
    assert found(import_file(path, melody="horn")) == tune_of(form)
    assert found(import_file(path, melody="2")) == tune_of(form)
    with pytest.raises(ChartError, match="no track 'oboe'; there are: 1 Flute, 2 Horn"):
        import_file(path, melody="oboe")


def test_what_a_chart_cannot_hold_is_kept_with_its_bar(save, form):
    sung = [
        (Fraction(8), mido.MetaMessage("lyrics", text="la")),
        (Fraction(16), mido.MetaMessage("set_tempo", tempo=600000)),
    ]
    drums = track("Kit", line([(Fraction(k), Fraction(1, 2), 36) for k in range(8)], channel=9))
    imported = read_midi(save(track("", conductor(*sung)), track("Melody", line(tune_of(form))), drums))
    said = [(remark.bar, str(remark)) for remark in imported.remarks]
    assert ("3", "words to sing: la") in said and ("5", "the tempo changes: 100") in said
    assert ("", "drums are left out: 8 notes") in said


def test_a_change_of_metre_is_kept_bar_by_bar(save):
    notes = [(Fraction(k), Fraction(1), 60 + k % 5) for k in range(15)]
    changes = [(Fraction(8), mido.MetaMessage("time_signature", numerator=3, denominator=4))]
    form = read_midi(save(track("", conductor(*changes)), track("Melody", line(notes)))).chart.unfold()
    assert [form.bars[k] for k in range(4)] == [0, 4, 8, 11]


def test_a_recording_on_a_clock_of_film_frames_is_the_same_tune(save, form):  # 24 frames of 40 ticks: 960 a second
    path = save(track("Melody", line(tune_of(form))), kind=0)
    data = path.read_bytes()
    plain = read_midi(path).chart
    path.write_bytes(data[:12] + bytes([256 - 24, 40]) + data[14:])
    assert read_midi(path).chart == plain


def test_a_metre_without_beats_is_passed_over(save, form):
    none = Fraction(0), mido.MetaMessage("time_signature", numerator=0, denominator=4)
    assert found(read_midi(save(track("Melody", [none, *line(tune_of(form))]), kind=0))) == tune_of(form)


def test_type_0_parts_are_its_channels(save, form):
    low = [(Fraction(4 * k), Fraction(4), 40) for k in range(16)]
    both = track("Song", [*conductor(), *line(tune_of(form)), *line(low, channel=1)])
    path = save(both, kind=0)
    assert [t.name for t in read_midi_file(path).tracks] == ["channel 1", "channel 2"]
    assert found(read_midi(path)) == tune_of(form)


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "not a Standard MIDI File"),
        (b"MThd\0\0\0\6\0\1\0\1\1\xe0MTrk\0\0\0\x10\0", "damaged"),
        (b"RIFFxxxx", "not a"),
    ],
)
def test_a_broken_file_is_one_line(tmp_path, data, what):
    (tmp_path / "x.mid").write_bytes(data)
    with pytest.raises(ChartError, match=what):
        read_midi(tmp_path / "x.mid")


def test_a_file_without_notes_is_one_line(save):
    with pytest.raises(ChartError, match=r"tune\.mid: no note in it"):
        read_midi(save(track("", conductor())))


def test_a_chord_hours_after_the_melody_is_no_bar_of_the_tune(save, form):
    stray = [*tune_of(form)[:1], (Fraction(40_000), Fraction(1), 60)]
    path = save(track("", conductor()), track("Lead", line(tune_of(form))), track("Chords", line([*stray, *stray])))
    with pytest.raises(ChartError, match=r"tune\.mid: has more than 2000 bars"):
        read_midi(path)


def test_a_melody_faster_than_any_hand_tells_of_a_wrong_clock(save, form):
    quick = [(beat / 50, length / 50, midi) for beat, length, midi in tune_of(form)]
    with pytest.raises(ChartError, match=r"tune\.mid: its melody has more than 50 notes a second; see to its tempo"):
        read_midi(save(track("", conductor()), track("Lead", line(quick))))


def test_a_tempo_or_a_metre_that_no_chart_has_is_said_before_the_work(save, form, monkeypatch):
    monkeypatch.setattr("companion.transcribe.midi_tune._written_melody", lambda *_: pytest.fail("the work was begun"))
    for told, what in (
        ({"tempo": 60_000}, "60000 is no tempo; give quarters a minute, from 20 to 400"),
        ({"metre": (5, 128)}, "a metre of 5/128"),
    ):
        with pytest.raises(ChartError, match=what):
            read_midi(save(track("", conductor(**told)), track("Lead", line(tune_of(form)))))


def test_bars_shorter_than_an_eighth_have_a_first_downbeat(save):
    imported = read_midi(
        save(track("", conductor(metre=(3, 32))), track("Lead", line([(Fraction(0), Fraction(3), 60)])))
    )
    assert found(imported) == [(Fraction(0), Fraction(3), 60)]


def test_a_pickup_in_a_bar_of_its_own_with_rests_before_it_is_a_pickup(save, form):
    """So notation programs write an upbeat that is no short bar; the tune has no bar more than it was written with."""
    notes = [(Fraction(3), Fraction(1), 67), *tune_of(form, Fraction(4))]
    path = save(track("", conductor(*markers(form, Fraction(4)))), track("Melody", line(notes)))
    imported = read_midi(path)
    assert found(imported) == [(Fraction(-1), Fraction(1), 67), *tune_of(form)]
    assert imported.chart.unfold().length == form.length


def test_what_a_file_does_not_say_is_said_with_what_it_means(save, form):
    """Without a word a file is at 120 quarters a minute, in 4/4 (Standard MIDI Files 1.0)."""
    said = [str(remark) for remark in read_midi(save(track("Lead", line(tune_of(form))), kind=0)).assumed]
    assert said == [
        "tempo: 120, which a MIDI file means that says none",
        "metre: 4/4, which a MIDI file means that says none",
        "key: C major, found in the notes: the file says none",
    ]
    told = read_midi(save(track("", conductor(*markers(form), key="C")), track("Lead", line(tune_of(form)))))
    assert told.assumed == ()


def test_a_recordings_beats_are_the_files_where_its_notes_keep_to_them_or_its_tempo_is_told(save, form):
    beats, first = own_beats(save(track("", conductor(tempo=96)), track("Lead", line(tune_of(form, Fraction(2))))))
    assert beats.tempo(0.0) == pytest.approx(96) and first == pytest.approx(2 * 60 / 96)
    loose = [(beat * Fraction(120, 138) + Fraction(1, 3), length, midi) for beat, length, midi in tune_of(form)]
    path = save(track("", conductor()), track("Lead", line(loose)))
    found, first = own_beats(path)
    assert found.tempo(0.0) == pytest.approx(138, rel=0.02) and first == pytest.approx(1 / 6)
    assert found.seconds(0.0) == first, "on a beat"
    told, _ = own_beats(path, 120.0)
    assert told.tempo(0.0) == pytest.approx(120) and told.seconds(0.0) == 0.0
    with pytest.raises(ChartError, match=r"tune\.mid: no note in it; record the melody"):
        own_beats(save(track("", conductor())))


def test_a_remark_stands_with_its_bar_and_with_the_pickup_before_the_first(save, form):
    sung = [(Fraction(beat), mido.MetaMessage("lyrics", text=word)) for beat, word in ((0, "oh"), (1, "la"), (9, "lo"))]
    notes = [(Fraction(0), Fraction(1), 67), *tune_of(form, Fraction(1))]
    imported = read_midi(save(track("", conductor(*sung, *markers(form, Fraction(1)))), track("Melody", line(notes))))
    assert [(remark.bar, str(remark)) for remark in imported.remarks] == [
        ("0", "words to sing: oh"), ("1", "words to sing: la"), ("3", "words to sing: lo")
    ]  # fmt: skip
