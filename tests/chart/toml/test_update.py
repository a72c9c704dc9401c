"""A chart's file changed by a program: what is new in it is written, and all else stays as a person wrote it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.chart.toml.arrangement import ABOUT
from companion.chart.toml.read import parse_toml
from companion.chart.toml.update import update_toml
from companion.errors import ChartError

HEAD = """# Mine.
format = 1
title = "Lid"     # for now
composer = "N. O. Body"
key = "C"
form = "A B"
"""
A = """
[section.A]   # the first
chords = "| C | F |"   # two bars
melody = "| c8 | d8 |"
"""
B = """
[section.B]
treatment = "slow"
chords = "| G7 | C |"
"""
BY_EAR = '''
[[arrangement]]   # by ear
section = "A"
bass = """
| C,8 | F,8 |   % low
"""
'''
LATER = '''
[[arrangement]]   # later
section = "B"
bass = """
| G,8 | C,8 |
"""
'''
ANEW = "\n" + "\n".join(ABOUT) + '\n[[arrangement]]  # bars 1-2\nsection = "A"\nbass = """\n| C,8 | F,8 |\n"""\n'
"""The first of these tables written by a program."""


def changed(text: str, **what: Any) -> str:
    return update_toml(text, replace(parse_toml(text), **what))


def test_where_nothing_has_changed_the_text_stays() -> None:
    for text in (HEAD + A + B, HEAD + A + B + BY_EAR, HEAD + A + B + BY_EAR + LATER):
        assert changed(text) == text


def rows(text: str) -> list[str]:
    """Its lines; where one has been added or taken out, blank lines may move."""
    return [line for line in text.splitlines() if line]


def test_of_the_head_what_is_new_is_written_in_its_place_or_at_its_end_and_what_is_gone_is_taken_out() -> None:
    head = HEAD.replace('"Lid"', '"Pan"').replace('composer = "N. O. Body"\n', "") + "tempo = 90\n"
    assert rows(changed(HEAD + A + B, title="Pan", composer=None, tempo=90.0)) == rows(head + A + B)


def test_a_section_that_has_changed_is_written_anew_and_the_others_are_not() -> None:
    a, b = parse_toml(HEAD + A + B).sections
    written = '\n[section.B]\nchords = """\n| G7 | C |\n"""\n'
    assert changed(HEAD + A + B + BY_EAR, sections=(a, replace(b, treatment=None))) == HEAD + A + written + BY_EAR
    short = replace(b, bars=(Fraction(4), Fraction(2)), chords=(b.chords[0], replace(b.chords[1], end=Fraction(6))))
    written = '\n[section.B]\ntreatment = "slow"\nchords = """\n| G7 | C |\n"""\nbar_metres = { 2 = "2/4" }\n'
    assert rows(changed(HEAD + A + B, sections=(a, short))) == rows(HEAD + A + written)


def test_sections_come_and_go_and_change_places() -> None:
    a, b = parse_toml(HEAD + A + B).sections
    alone = changed(HEAD + A + B, sections=(a,), form=("A",))
    assert rows(alone) == rows(HEAD.replace('"A B"', '"A"') + A)
    more = changed(HEAD + A + B, sections=(a, b, replace(b, name="C", treatment=None)), form=("A", "B", "C"))
    last = '[section.C]\nchords = """\n| G7 | C |\n"""\n'
    assert rows(more) == rows(HEAD.replace('"A B"', '"A B C"') + A + B + last)
    assert rows(changed(HEAD + A + B, sections=(b, a))) == rows(HEAD + B + A)


def test_in_another_key_every_melody_is_spelled_anew() -> None:
    found = changed(HEAD + A.replace("d8", "^f8") + B, fifths=1)
    assert 'key = "G major"' in found and "| c8 | f8 |" in found and 'chords = """\n| G7 | C |' in found
    assert "# the first" in found and "# two bars" in found


def test_an_arrangement_is_written_where_there_was_none_and_taken_out_where_there_is_none_any_more() -> None:
    whole = parse_toml(HEAD + A + B + BY_EAR)
    for text in (HEAD + A + B, (HEAD + A + B).rstrip(), HEAD + A + B + "\n\n"):
        assert update_toml(text, whole) == HEAD + A + B + ANEW
    assert changed(HEAD + A + B + BY_EAR, written=()).rstrip() == (HEAD + A + B).rstrip()


def test_where_the_form_has_other_places_the_arrangement_is_written_anew() -> None:
    text = HEAD + A + B + BY_EAR
    assert changed(text, form=("A", "A")) == HEAD.replace('"A B"', '"A A"') + A + B + ANEW


def test_where_less_is_arranged_the_first_tables_stay_as_they_are() -> None:
    first: Chart = parse_toml(HEAD + A + B + BY_EAR)
    found = changed(HEAD + A + B + BY_EAR + LATER, written=first.written)
    assert found.rstrip() == (HEAD + A + B + BY_EAR).rstrip()
    assert changed(HEAD + A + B + BY_EAR, written=parse_toml(HEAD + A + B + BY_EAR + LATER).written) == (
        HEAD + A + B + BY_EAR + LATER.replace("]   # later", "]  # bars 3-4")
    )


def test_a_file_of_a_newer_format_is_never_changed() -> None:
    with pytest.raises(ChartError, match="format"):
        update_toml(HEAD.replace("format = 1", "format = 99") + A + B, parse_toml(HEAD + A + B))
