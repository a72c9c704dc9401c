"""What is counted of sliding fourths, held to routes made by hand (common practice)."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from companion.arrange.audit.chords import chords_of
from companion.arrange.audit.figures import AuditFigure
from companion.arrange.audit.slides import routes, slide_figures
from companion.arrange.part import Note
from companion.arrange.plan import plan
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]
LANDED = "sliding fourths that land on the note asked for"
ANSWERED = "routes from the other side than one before"
ECHOED = "routes with the rhythm of four bars before"
MELODY = [(4, 1, 60), (5, 3, 65), (12, 4, 64), (20, 4, 67), (28, 4, 62)]
"""In the second, fourth, sixth and eighth bar it would hold F, E, G and D longest."""


def fourths(beat: float, top: int, *, slides: bool) -> list[Note]:
    return [
        Note(Fraction(beat), Fraction(1, 2), pitch_in_key(top - below), "chords", degree="x" if slides else "1")
        for below in (10, 5, 0)
    ]


def route(beats: list[float], top: int, side: int) -> list[Note]:
    """Chords that slide to the last of some beats, from above (side 1) or below (-1)."""
    *there, arrival = beats
    steps = [fourths(beat, top + side * (len(there) - n), slides=True) for n, beat in enumerate(there)]
    return [note for chord in [*steps, fourths(arrival, top, slides=False)] for note in chord]


def counted(form: Form, *notes: list[Note]) -> dict[str, AuditFigure]:
    played = [note for row in notes for note in row]
    return {figure.name: figure for figure in slide_figures(form, plan(form, "sliding"), [played])}


def test_a_route_is_a_row_that_slides_and_its_arrival() -> None:
    notes = [
        *fourths(0, 70, slides=False),
        *route([1, 2, 3.5, 4], 65, 1),
        *route([5, 7], 72, -1),
        *fourths(9, 70, slides=True),
    ]
    high, low = routes(chords_of(notes))
    assert [(beat, midi[-1]) for beat, midi in high.steps] == [(1, 68), (2, 67), (3.5, 66), (4, 65)]
    assert (high.falls, high.rhythm) == (True, (1, 1.5, 0.5))
    assert (low.falls, low.rhythm, low.steps[-1]) == (False, (2,), (7, (62, 67, 72)))


def test_fourths_land_on_the_note_that_the_melody_would_hold_longest(compose: Composer) -> None:
    form = compose("Em7 | A7 | Dm7 | G7 | Cmaj7 | Fmaj7 | Em7 | Dm7", melody=MELODY)
    first, second = route([0, 1, 2, 3, 4], 65, 1), route([9, 10, 11, 12], 76, -1)
    third, fourth = route([16, 17, 18, 19, 20], 67, -1), route([25.5, 26.5, 27.5, 28], 63, -1)
    found = counted(form, first, second, third, fourth)
    assert (found[LANDED].value, found[LANDED].of, found[LANDED].places) == (0.75, 4, ("bar 8 beat 1",))
    # the second and the third come from the other side than the first, the fourth as the two before it
    assert (found[ANSWERED].of, found[ANSWERED].places) == (3, ("bar 7 beat 2.5",))
    assert (found[ECHOED].value, found[ECHOED].of) == (0.5, 2), "the third has the rhythm of the first"
    assert (found[LANDED].at_least, found[ANSWERED].at_least, found[ECHOED].at_least) == (1.0, 0.8, 0.7)
    early = counted(form, route([2.5, 3, 3.5], 65, 1), route([10.5, 11, 11.5], 60, 1))[LANDED]
    assert (early.value, early.places) == (0.5, ("bar 3 beat 4.5",)), "a quaver early it is the next bar's"
    assert counted(compose("Em7 | A7 | Dm7 | G7"), first)[LANDED].of == 0, "there is no melody"


def test_routes_answer_within_eight_bars_that_end_with_their_treatment(compose: Composer) -> None:
    form = compose(" | ".join(["Em7", "A7"] * 6))  # of twelve bars the first four are by themselves
    rows = [route([at, at + 1, at + 4], 65, -1) for at in (0, 8, 16, 24, 32, 40)]
    assert counted(form, *rows)[ANSWERED].of == 1 + 3
    assert counted(form, *rows)[ANSWERED].value == 0 and counted(form, *rows)[ECHOED].value == 1
    assert counted(form, *rows)[ECHOED].of == 2


def test_where_nothing_slides_by_plan_nothing_is_counted(compose: Composer) -> None:
    form = compose("Em7 | A7 | Dm7 | G7", melody=[(4, 4, 64)])
    notes = route([0, 1, 2, 3, 4], 65, 1)
    assert [figure.of for figure in slide_figures(form, plan(form, "walking"), [notes])] == [0, 0, 0]


def test_where_the_treatment_begins_anew_so_do_the_routes(compose: Composer) -> None:
    form = compose("Em7 | A7 | Dm7 | G7 | Cmaj7 | Fmaj7 | Em7 | Dm7")
    sliding = plan(form, "sliding")[0][2]
    notes = [*route([8, 9, 12], 65, -1), *route([16, 17, 20], 65, 1)]
    for halves, of in (((0, 32),), 1), (((0, 16), (16, 32)), 0):
        ruled = tuple((Fraction(a), Fraction(b), sliding) for a, b in halves)
        assert slide_figures(form, ruled, [notes])[1].of == of


def test_a_note_that_begins_with_the_next_bar_is_not_asked_for(compose: Composer) -> None:
    form = compose("Em7 | A7 | Dm7 | G7", melody=[(3, 1, 62), (8, 4, 64)])
    assert counted(form, route([0, 1, 2, 3, 4], 65, 1))[LANDED].of == 0, "nor one that has ended with the last"
    held = compose("Em7 | A7 | Dm7 | G7", melody=[(3, 1.5, 62), (8, 4, 64)])
    assert counted(held, route([0, 1, 2, 3, 4], 62, 1))[LANDED].value == 1
