"""From a rehearsal's reports to what the page is told.

Conventions: reports have seconds of their rehearsal, messages those of the live clock; ``origin`` is the moment of the
live clock at which the rehearsal's seconds begin.
"""

from __future__ import annotations

from companion.messages import Beat, Report, Round, State, Treated
from companion.page.outgoing import AnyOutgoing, BeatTold, RoundTold, StateTold, TreatedTold
from companion.stage.console import SPAN, WORDS, doubt_text, event_text, round_text, tempo_of


class Reporter:
    """Puts reports into the page's words, one after the other."""

    def __init__(self) -> None:
        self.origin = 0.0
        self._beats: list[Beat] = []

    def told(self, report: Report) -> AnyOutgoing | None:
        """What the page is told of a report; nothing of a belief."""
        if isinstance(report, Beat):
            self._beats = [*self._beats[-SPAN:], report]
            return BeatTold(
                at=self.origin + report.seconds,
                place=report.chart_beat,
                sure=report.sure,
                chorus=report.chorus,
                event=report.event,
                turn=report.turn,
                tempo=tempo_of(self._beats),
                doubt=doubt_text(report.sure),
            )
        if isinstance(report, State):
            return StateTold(
                at=self.origin + report.seconds,
                name=report.name,
                words=WORDS[report.name],
                place=report.chart_beat,
                tempo=report.tempo,
                event=report.event,
                event_words=event_text(report),
                last=report.last,
            )
        if isinstance(report, Treated):
            return TreatedTold(at=self.origin + report.seconds, sections=dict(report.sections))
        if isinstance(report, Round):
            return RoundTold(
                at=self.origin + report.seconds,
                number=report.number,
                first=report.first,
                last=report.last,
                key=report.key,
                tempo=report.tempo,
                good=report.good,
                why=report.why,
                hidden=report.hidden,
                words=round_text(report),
            )
        return None
