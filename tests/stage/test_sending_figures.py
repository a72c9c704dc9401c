"""How late messages were, in words."""

import pytest

from companion.stage.sending_figures import SendingFigures

LEFT = {"sent": 400, "median_ms": 0.03, "p99_ms": 0.2, "worst_ms": 0.4, "dropped": 0}
UNSEEN = "what the system and the instrument add isn't seen from here"


@pytest.mark.parametrize(
    ("count", "told"),
    [
        (0, UNSEEN),
        (19, UNSEEN),
        (20, "back from the instrument 4.1 ms after their moment at the median, 46.0 ms at the 99th percentile"),
        (300, "back from the instrument 4.1 ms after their moment at the median, 46.0 ms at the 99th percentile"),
    ],
)
def test_how_late_notes_were_at_the_instrument_is_told_where_it_sends_them_back(count, told):
    back = {"count": count, "median_ms": 4.1, "p99_ms": 46.0} if count else {}
    figures = str(SendingFigures.of(LEFT, back))
    assert figures == f"sent 0.03 ms late at the median, 0.20 ms at the 99th percentile; {told}"


@pytest.mark.parametrize("left", [{}, {"sent": 0}])
def test_where_nothing_was_sent_there_is_nothing_to_tell(left):
    assert SendingFigures.of(left, {}) is None


def test_what_never_came_back_has_no_lateness():
    assert SendingFigures.of(LEFT, {"count": 0}) == SendingFigures(400, 0.03, 0.2) == SendingFigures.of(LEFT, {})
    assert SendingFigures(400, 0.03, 0.2) == SendingFigures(400, 0.03, 0.2, 0, 0.0, 0.0)
