"""Downloads: what is printed is what was asked for, as a file that its kind of program reads."""

from __future__ import annotations

import io
import re
from pathlib import Path

import mido
import pytest

from companion.page.how import AS_WRITTEN, How
from companion.page.printing import Printable, PrintAsked, printed
from companion.resources import chart_path

FERRY = str(chart_path("ferry-without-lights"))


def test_each_hand_has_its_own_parts_as_midi(tmp_path: Path) -> None:
    tune = tmp_path / "tune.toml"
    tune.write_text('format = 1\n[section.A]\nchords = "| Dm7 | G7 | C6 |"\nmelody = "| f8 | d8 | c8 |"\n')

    def tracks(what: str) -> set[str]:
        data = printed(PrintAsked(str(tune), AS_WRITTEN, what, "mid"))["data"]  # type: ignore[arg-type]
        return {track.name for track in mido.MidiFile(file=io.BytesIO(data)).tracks[1:]}

    assert "bass" in tracks("both") and "melody" in tracks("both")
    assert "bass" in tracks("left") and "melody" not in tracks("left")
    assert "melody" in tracks("right") and "bass" not in tracks("right")
    assert tracks("lead") == {"melody"}


def test_the_treatment_that_was_chosen_is_what_is_printed() -> None:
    hows = (AS_WRITTEN, How(treatments={"B": "open"}))
    usual, open_ = (printed(PrintAsked(FERRY, how, "both", "musicxml")) for how in hows)
    assert usual["name"] == "ferry-without-lights.musicxml" and usual["data"] != open_["data"]
    assert usual["data"].startswith(b"<?xml")


def test_a_lead_sheet_is_a_pdf() -> None:
    pytest.importorskip("verovio")
    pytest.importorskip("typst")
    told = printed(PrintAsked(FERRY, AS_WRITTEN, "lead", "pdf"))
    assert told["name"] == "ferry-without-lights-lead.pdf" and told["data"].startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("what", "clefs", "name"),
    [
        ("both", {"G", "F"}, "ferry-without-lights.musicxml"),
        ("lead", {"G"}, "ferry-without-lights-lead.musicxml"),
        ("right", {"G"}, "ferry-without-lights-right.musicxml"),
        ("left", {"F"}, "ferry-without-lights-left.musicxml"),
    ],
)
def test_each_hand_has_its_own_staff_on_paper(what: Printable, clefs: set[str], name: str) -> None:
    told = printed(PrintAsked(FERRY, AS_WRITTEN, what, "musicxml"))
    assert told["name"] == name
    assert set(re.findall(r"<sign>(\w)</sign>", told["data"].decode())) == clefs
