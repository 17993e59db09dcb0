"""Notices about alarms as a message to a person: subject, text, and the parts of each."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.samples import AlarmChange
from analytics.setup import SiteSetup
from dashboards.phrases.alarm_words import AlarmWords, alarm_words
from dashboards.phrases.language import FALLBACK, language
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from firmware_bridge.notify.notice import Notice, Told, Why


class CatalogueTeller:
    """Tells notices of one site in one language."""

    def __init__(self, setup: SiteSetup, code: str = FALLBACK) -> None:
        self._setup = setup
        self._reader = Reader(language=language(code))

    def tell(self, notices: Sequence[Notice], now_ms: int) -> Told:
        """These notices as one message."""
        when = When(self._reader.language.calendar, self._setup.local_time, now_ms)
        parts = tuple(self._parts(notice, when) for notice in notices)
        texts = [part["text"] for part in parts]
        if len(notices) == 1:
            subject = parts[0]["subject"]
        else:
            subject = self._say("notice.several", site=self._setup.name, n=str(len(notices)))
        return Told(subject=subject, text="\n\n".join(texts) + "\n", parts=parts)

    def _say(self, key: str, **values: str) -> str:
        return self._reader.say(key, **values)

    def _parts(self, notice: Notice, when: When) -> dict[str, str]:
        if notice.change is None:
            return self._digest(notice, when)
        words = alarm_words(notice.change, self._reader)
        parts = {
            "title": words.title,
            "figures": words.figures,
            "cause": words.cause,
            "consequence": words.consequence,
            "do": words.do,
            "within": words.within,
            "subject": self._subject(notice, words),
        }
        text = self._text(notice, notice.change, words, when)
        return {name: said for name, said in parts.items() if said} | {"text": text}

    def _subject(self, notice: Notice, words: AlarmWords) -> str:
        title = words.title
        if notice.why is not Why.RAISED:
            title = self._say(f"notice.{notice.why}", title=title)
        if notice.line_id and len(self._setup.lines) > 1:
            return self._say(
                "notice.raised-line", site=self._setup.name, line=notice.line_id, title=title
            )
        return self._say("notice.raised", site=self._setup.name, title=title)

    def _text(self, notice: Notice, change: AlarmChange, words: AlarmWords, when: When) -> str:
        said = [f"{self._subject(notice, words)} {words.figures}".strip()]
        said.append(self._say("notice.since", moment=when.moment(change.at_ms)))
        if notice.why is not Why.CLEARED and words.do:
            said.append(self._say("notice.do", within=words.within, do=words.do))
            said.append(self._say("notice.why", cause=words.cause, consequence=words.consequence))
            said.append(
                self._say("notice.priority", priority=self._say(f"priority.{change.priority}"))
            )
        return "\n".join(said)

    def _digest(self, notice: Notice, when: When) -> dict[str, str]:
        day, clock = when.long(when.today), when.clock(when.now_ms)
        subject = self._say("notice.digest", site=self._setup.name, day=day, clock=clock)
        said = [subject, self._say("notice.digest-new", n=self._reader.count_word(notice.new))]
        if not notice.stands:
            said.append(self._say("notice.digest-none"))
        for line_id, change in notice.stands:
            words = alarm_words(change, self._reader)
            named = line_id and len(self._setup.lines) > 1
            where = f"{line_id}{self._say('page.colon')} " if named else ""
            since = self._say("notice.since", moment=when.moment(change.at_ms))
            said.append(f"- {where}{words.told} {since}")
        return {"subject": subject, "text": "\n".join(said)}
