"""The session as the server knows it: phones, their clocks and rows, the open take, and the display. Pure.

It opens nothing: messages come with our clock's time, and what the program has to know is handed out as events.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.live.phones.access import Door, Limits
from tempo_coach.live.phones.clocks import PhoneClocks
from tempo_coach.live.phones.messages import Mark, RemoteButton, RowKind
from tempo_coach.live.phones.row_book import RowBook

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from tempo_coach.live.phones.clocks import Opening, PhoneClock
    from tempo_coach.live.phones.messages import Message
    from tempo_coach.times import Floats

#: Seconds without a message after which a phone is said to be silent.
SILENT = 3.0
#: Seconds between two lines of one phone's clock that are told.
LINE_EVERY = 1.0
#: Seconds before a take's beginning whose rows are kept: what was done may be placed a little earlier later on.
BEFORE = 2.0
#: Seconds that what the remote wants may be old.
FRESH = 3.0
#: Answers of one phone that may still be acknowledged.
_OPEN_ANSWERS = 64
#: Pages that one phone may have opened in a session, and jumps of the clock of one: more are made on purpose.
_MOST_PAGES, _MOST_JUMPS = 50, 100
#: Most readings of one phone that are told at once while a take runs: what is older has had its time.
MOST_UNTOLD = 1200
#: Rows of one phone that are kept while no take is open, some seconds of them: one may begin before we know of it.
MOST_RECENT = 300
#: Most rows of one phone in a take: two hours at 60 a second.
MOST_ROWS = 450_000


@dataclass
class Phone:
    """One phone.

    Parameters
    ----------
    number : int
    sign : str
        Two digits that it shows, so that the person at the terminal knows which it is.
    called : tuple of str
        What its page calls the fields, where that is something else.
    me : str
        What its browser calls itself, so that one that comes again is known; anybody's word for it.
    gone : bool
        Whether it was sent away, or another took its place: what it gave of the open take stays.
    """

    number: int
    sign: str
    name: str = ""
    roles: tuple[str, ...] = ()
    fields: tuple[str, ...] = ()
    called: tuple[str, ...] = ()
    me: str = ""
    confirmed: bool = False
    silent: bool = False
    gone: bool = False
    seen: float = -math.inf
    complete_until: float = -math.inf
    book: RowBook = field(default_factory=RowBook)
    limits: Limits = field(default_factory=Limits)
    clocks: PhoneClocks = field(default_factory=PhoneClocks)
    rows: list[tuple[Opening, Sequence[float]]] = field(default_factory=list)
    untold: list[tuple[Opening, Sequence[float]]] = field(default_factory=list)
    recent: deque[tuple[Opening, Sequence[float]]] = field(default_factory=lambda: deque(maxlen=MOST_RECENT))
    answers: dict[int, tuple[float, float]] = field(default_factory=dict)
    last_answer: int = 0
    told_line: float = -math.inf
    told_jumps: int = 0

    @property
    def observes(self) -> bool:
        """Whether it delivers onsets or readings."""
        return "tap" in self.roles or "worn" in self.roles


class Hub:
    """State of one session.

    Attributes
    ----------
    door : Door
    phones : dict of int to Phone
    events : list of dict
        What the program has to know, in order; whoever hands it on empties it.
    """

    def __init__(self, door: Door | None = None) -> None:
        self.door = door or Door()
        self.phones: dict[int, Phone] = {}
        self.events: list[dict[str, Any]] = []
        self.version = 1
        self._shown: dict[str, Any] = {}
        self._laid: dict[str, Any] = {}
        self._take, self._start, self._end = 0, math.inf, math.inf

    def join(self, token: str, now: float, *, me: str = "") -> dict[str, Any] | None:
        """Admit a phone with the current token; None with another one."""
        joined = self.door.join(token)
        if joined is None:
            return None
        number, secret = joined
        phone = Phone(number, f"{(37 * number + 11) % 90 + 10}", me=me, seen=now)
        before = max((each.number for each in self.phones.values() if me and each.me == me), default=0)
        self.phones[number] = phone
        self._tell("asks", phone=number, sign=phone.sign, before=before)
        self._tell("token", token=self.door.token)
        return {"secret": secret, "number": number, "sign": phone.sign}

    def answer(self, number: int, message: Message, received: float) -> dict[str, Any]:
        """Process a message and return the reply; ``slow`` where it exceeds the limits and was dropped.

        Parameters
        ----------
        number : int
            Of the phone.
        message : Message
        received : float
            Our clock when it came; when the answer goes is told to :meth:`sent`.
        """
        phone = self.phones[number]
        if not phone.limits.messages.take(received) or not phone.limits.rows.take(received, len(message.rows)):
            return {"slow": True, "next": phone.book.next}
        clock = self._clock_of(phone, message, received)
        if clock is None:
            return {"slow": True, "next": phone.book.next}
        new = phone.book.take(message.first, message.rows, held=message.held)
        if new:
            self._take_in(phone, message.of, new)
        if new is not None and not message.left:
            at = phone.clocks.line(message.page, message.at).offset + message.at
            phone.complete_until = max(phone.complete_until, at)
        return self._reply(phone, message, received, gap=new is None)

    def sent(self, number: int, reply: dict[str, Any], now: float) -> None:
        """Note when a reply goes."""
        phone = self.phones.get(number)
        if phone is not None and reply.get("ping") in phone.answers:
            received, _ = phone.answers[reply["ping"]]
            phone.answers[reply["ping"]] = received, now

    def _clock_of(self, phone: Phone, message: Message, received: float) -> PhoneClock | None:
        phone.seen = received
        if phone.silent:
            phone.silent = False
            self._tell("back", phone=phone.number)
        openings = {message.page, message.of}
        if len(phone.clocks) + sum(each not in phone.clocks for each in openings) > _MOST_PAGES:
            return None
        phone.clocks.of(message.of)  # it counts, though it never sends a message
        clock = phone.clocks.of(message.page)
        if clock.jumps >= _MOST_JUMPS:
            return None
        clock.add_up(message.at, received)
        for each in message.got:
            asked, answered = phone.answers.pop(each.answer, (math.nan, math.nan))
            if math.isfinite(answered):
                clock.add_down(answered, each.came)
                if each.went is not None:
                    clock.add_up(each.went, asked)
        if phone.confirmed and clock.jumps > phone.told_jumps:
            phone.told_jumps = clock.jumps
            self._tell("jumped", phone=phone.number)
        return clock

    def _reply(self, phone: Phone, message: Message, received: float, *, gap: bool) -> dict[str, Any]:
        phone.last_answer += 1
        phone.answers[phone.last_answer] = received, math.nan
        while len(phone.answers) > _OPEN_ANSWERS:
            del phone.answers[next(iter(phone.answers))]
        reply: dict[str, Any] = {"ping": phone.last_answer, "next": phone.book.next}
        if gap:
            reply["gap"] = True
        if received - phone.told_line >= LINE_EVERY:
            line = phone.clocks.line(message.page)
            if math.isfinite(line.half_width):
                phone.told_line = received
                reply["line"] = [line.stamp, line.offset, line.half_width]
                self._tell("line", phone=phone.number, half=line.half_width)
        if message.seen < self.version:
            reply |= self.state_for(phone)
        return reply

    def state_for(self, phone: Phone) -> dict[str, Any]:
        """Return the display of a phone."""
        you = {"name": phone.name, "roles": phone.roles, "fields": phone.called or phone.fields, "sign": phone.sign}
        shown = {**self._shown, "laid": self._laid} if phone.confirmed else {}
        return {"version": self.version, "you": you, "confirmed": phone.confirmed, "shown": shown}

    def _take_in(self, phone: Phone, page: Opening, rows: Sequence[Sequence[float]]) -> None:
        if not phone.confirmed:
            return
        ours: Floats = np.full(len(rows), np.nan)
        half: Floats = ours
        if self._end < math.inf or any(row[1] != RowKind.READING for row in rows):
            ours, half = phone.clocks.place(page, [row[0] for row in rows])
        for row, at, bound in zip(rows, ours.tolist(), half.tolist(), strict=True):
            kind = RowKind(int(row[1]))
            # nobody taps as fast as a flood
            if not (kind is RowKind.READING or phone.limits.taps.take(phone.seen)):
                continue
            if kind is RowKind.REMOTE:
                self._hear_remote(phone, row, at)
            elif kind is RowKind.MARK and not at > self._end:
                self._tell("mark", phone=phone.number, mark=int(row[2]))
                phone.rows.append((page, row))
            elif kind is not RowKind.MARK and ("tap" if kind is RowKind.TAP else "worn") in phone.roles:
                # what was done after a take is none of its rows: which of the others are is seen when it is collected
                if self._take == 0 or at > self._end:
                    phone.recent.append((page, row))
                elif len(phone.rows) < MOST_ROWS:
                    phone.rows.append((page, row))
                    if kind is RowKind.TAP:
                        self._tell_tap(phone, row, at, bound)
                    else:
                        phone.untold.append((page, row))

    def _tell_tap(self, phone: Phone, row: Sequence[float], at: float, bound: float) -> None:
        field_ = int(row[2])
        if math.isfinite(at) and self._start <= at <= self._end and 0 <= field_ < len(phone.fields):
            hand = phone.fields[field_]
            self._tell("tap", phone=phone.number, hand=hand, stamp=at, half=bound, take=self._take)

    def _hear_remote(self, phone: Phone, row: Sequence[float], at: float) -> None:
        if "remote" in phone.roles and int(row[2]) in set(RemoteButton) and phone.seen - at <= FRESH:
            self._tell("remote", phone=phone.number, wanted=int(row[2]), stamp=at)

    def knows(self, number: int) -> bool:
        """Return whether a phone has joined."""
        return number in self.phones and not self.phones[number].gone

    def look(self, now: float) -> None:
        """Check which phones have gone silent."""
        for phone in self.phones.values():
            if not phone.silent and not phone.gone and now - phone.seen > SILENT:
                phone.silent = True
                self._tell("silent", phone=phone.number)

    def confirm(self, number: int, name: str, roles: tuple[str, ...], fields: tuple[str, ...]) -> None:
        """Give a phone a name and roles, and the hand or hands of its fields or of its wearing."""
        phone = self.phones.get(number)
        if phone is not None:
            phone.name, phone.roles, phone.fields, phone.confirmed = name, roles, fields, True
            self.version += 1

    def call(self, number: int, fields: tuple[str, ...]) -> None:
        """Say what a phone's page calls its fields."""
        if number in self.phones:
            self.phones[number].called = fields

    def refuse(self, number: int) -> None:
        """Remove a phone; its rows of the open take stay until the next one."""
        if number in self.phones:
            self.door.shut(number)
            self.phones[number].gone = True
            if not self.phones[number].rows:
                del self.phones[number]

    def show(self, values: dict[str, Any]) -> None:
        """Update the parts of the display that change from moment to moment."""
        self._shown = values
        self.version += 1

    def lay(self, values: dict[str, Any]) -> None:
        """Set the counts of a take."""
        self._laid = values
        self.version += 1

    def begin(self, take: int, start: float) -> None:
        """Open a take at a time of our clock; later rows belong to it."""
        self._take, self._start, self._end = take, start - BEFORE, math.inf
        self.phones = {number: phone for number, phone in self.phones.items() if not phone.gone}
        for phone in self.phones.values():
            phone.rows = list(phone.recent)
            phone.recent.clear()
            phone.untold.clear()
            for page, row in phone.rows:
                if row[1] == RowKind.TAP:
                    ours, half = phone.clocks.place(page, [row[0]])
                    if ours[0] >= start:
                        self._tell_tap(phone, row, float(ours[0]), float(half[0]))

    def end(self, stamp: float) -> None:
        """Close the take at a time of our clock; earlier rows may still arrive."""
        self._end = stamp

    def tell_readings(self) -> None:
        """Report the readings since the last call, placed by the clocks as known now."""
        for phone in self.phones.values():
            newest, phone.untold = phone.untold[-MOST_UNTOLD:], []
            placed: list[list[float]] = []
            for rows, ours, _ in _place_all(phone.clocks, newest):
                placed += [[at, *row[2:]] for at, row in zip(ours.tolist(), rows, strict=True) if math.isfinite(at)]
            if placed:
                self._tell("readings", phone=phone.number, rows=placed)

    def collect(self, *, whole: bool = True) -> None:
        """Report the whole take, each stamp placed by the clocks as known by now.

        Parameters
        ----------
        whole : bool
            Whether to tell it although something is still to come: gathering it takes long, and phones wait meanwhile.
        """
        observing = [phone for phone in self.phones.values() if phone.confirmed and phone.observes]
        if not whole and not all(self._is_complete(phone) for phone in observing):
            self._tell("waiting", take=self._take)
            return
        self._tell("collected", take=self._take, phones=[self._collect(phone) for phone in observing])

    def _collect(self, phone: Phone) -> dict[str, Any]:
        taps: list[tuple[float, float, str]] = []
        readings: list[list[float]] = []
        marks: list[tuple[float, int]] = []
        half_width = 0.0
        for rows, ours, half in _place_all(phone.clocks, phone.rows):
            inside = np.isfinite(ours) & (ours >= self._start) & (ours <= self._end)
            if inside.any():
                half_width = max(half_width, float(half[inside].max()))
            for row, stamp, bound, kept in zip(rows, ours.tolist(), half.tolist(), inside.tolist(), strict=True):
                if not kept:
                    continue
                if row[1] == RowKind.TAP and 0 <= row[2] < len(phone.fields):
                    taps.append((stamp, bound, phone.fields[int(row[2])]))
                elif row[1] == RowKind.READING:
                    readings.append([stamp, *row[2:]])
                elif row[1] == RowKind.MARK:
                    marks.append((stamp, int(row[2])))
        return {
            "phone": phone.number,
            "name": phone.name,
            "fields": phone.fields,
            "roles": phone.roles,
            "taps": sorted(taps),
            "readings": sorted(readings),
            "hidden": _hidden(marks, self._end),
            "half": half_width,
            "complete": self._is_complete(phone),
        }

    def _is_complete(self, phone: Phone) -> bool:
        """Return whether nothing of the take is still outstanding from a phone."""
        return phone.gone or phone.complete_until >= self._end

    def _tell(self, what: str, **values: object) -> None:
        self.events.append({"event": what, **values})


def _place_all(
    clocks: PhoneClocks, rows: Sequence[tuple[Opening, Sequence[float]]]
) -> Iterator[tuple[list[Sequence[float]], Floats, Floats]]:
    """Yield the rows of each opening of a page, their stamps on our clock, and the bounds of these."""
    by_opening: dict[Opening, list[Sequence[float]]] = {}
    for opening, row in rows:
        by_opening.setdefault(opening, []).append(row)
    for opening, own in by_opening.items():
        yield own, *clocks.place(opening, [row[0] for row in own])


def _hidden(marks: list[tuple[float, int]], end: float) -> list[tuple[float, float]]:
    """Return the stretches in which a page was hidden."""
    spans, since = [], None
    for stamp, mark in sorted(marks):
        if mark == Mark.HIDDEN and since is None:
            since = stamp
        elif mark == Mark.SHOWN and since is not None:
            spans.append((since, stamp))
            since = None
    if since is not None:
        spans.append((since, end))
    return spans
