"""The program's side of the server: starts its process, hands phones their roles, and is a source of onsets.

Nothing here waits. The process ends when its input does, so that it never outlives the program.
"""

from __future__ import annotations

import json
import math
import os
import selectors
import subprocess
import sys
from contextlib import suppress
from dataclasses import replace
from itertools import pairwise
from time import perf_counter
from typing import TYPE_CHECKING, Any

from tempo_coach.languages import tr, tr_n
from tempo_coach.live.inputs.source import Collected, Remote, SourceOnset
from tempo_coach.live.notices import Code, Notice
from tempo_coach.live.phones.joined import JoinedPhone, rivals_of
from tempo_coach.live.phones.messages import Mark
from tempo_coach.live.phones.page_words import say_page

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.live.inputs.source import SourceNews
    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.pattern.plan.plan import Plan

#: Seconds in which the process has to leave by itself.
PATIENCE = 2.0
#: Readings a second of a touch panel, the slowest that there are (common practice of makers; from memory).
PANEL_HZ = 60.0
#: Seconds without a reading from which it is a gap.
READING_GAP = 0.25
#: Seconds between two requests for what is known of a take that is not complete.
ASK_EVERY = 0.25
#: Seconds between two requests for readings while a take runs.
READINGS_EVERY = 0.2
#: Seconds after a take's end from which what is there is wanted although it is not complete.
ASK_WHOLE = 2.0
_MARKS = {Mark.HIDDEN: Code.PHONE_HIDDEN, Mark.NO_MOTION: Code.PHONE_NO_MOTION, Mark.NO_WAKE_LOCK: Code.PHONE_SLEEPS}


class Phones:
    """A server for phones, and what they observe. See :class:`tempo_coach.live.inputs.source.LiveSource`.

    Parameters
    ----------
    address : str
        The one address that is bound.
    port : int
        0 for any that is free.
    latency_of : callable or None
        Returns the calibrated delay of a phone in seconds, told its name; None where it was not measured.
    members : bool
        Whether what is noticed is a take of each name; else all of it is one take.

    Attributes
    ----------
    phones : dict of int to JoinedPhone
    url : str
        What the code holds; empty while nothing listens.
    fingerprint : str
        Signs of the certificate, to be compared with what a browser shows.
    trouble : Notice or None
        Why nothing listens.
    watched : bool
        Whether somebody looks at who asks: else it is told.
    """

    def __init__(
        self,
        address: str,
        port: int,
        *,
        latency_of: Callable[[str], float | None] | None = None,
        members: bool = False,
    ) -> None:
        self.address = address
        self.phones: dict[int, JoinedPhone] = {}
        self.url = self.fingerprint = ""
        self.trouble: Notice | None = None
        self.watched = False
        self._port = port
        self._latency_of = latency_of or (lambda _: None)
        self._members = members
        self._observed = False
        self._news: list[SourceNews] = []
        self._said = b""
        self._take = 0
        self._ended = False
        self._collected: Collected | None = None
        self._rows: list[dict[str, Any]] = []
        self._readings: dict[tuple[str, str], list[Sequence[float]]] = {}
        self._told_readings = -math.inf
        self._asked = self._ended_at = -math.inf
        self._asking = False
        self._plan_hands: tuple[str, ...] = ()
        self._shown: dict[str, object] = {}
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tempo_coach.live.phones.server", address, str(port), json.dumps(say_page())],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        self._selector = selectors.DefaultSelector()
        if self._process.stdout is not None:
            os.set_blocking(self._process.stdout.fileno(), False)
            self._selector.register(self._process.stdout, selectors.EVENT_READ)

    @property
    def process_id(self) -> int:
        """Process id of the server."""
        return self._process.pid

    @property
    def unconfirmed(self) -> tuple[JoinedPhone, ...]:
        """Phones that ask to be admitted."""
        return tuple(each for each in self.phones.values() if not each.roles)

    @property
    def observed_by(self) -> ObservedBy:
        """Taps if any phone taps, else worn phones."""
        roles = {role for each in self.phones.values() for role in each.roles}
        return "worn phone" if "worn" in roles and "tap" not in roles else "phone"

    @property
    def half_width(self) -> float:
        """Largest bound of the clocks of the observing phones, in seconds."""
        return max((each.half_width for each in self._observing()), default=0.0)

    def half_width_of(self, name: str) -> float:
        """Return the largest bound of the observing phones of one name, in seconds."""
        return max((each.half_width for each in self._observing() if each.name == name), default=0.0)

    @property
    def note(self) -> str:
        """Number of phones, and the bound."""
        here = [each for each in self.phones.values() if each.roles]
        if not here:
            return ""
        half = self.half_width
        bound = f" ±{max(1, round(1000 * half))} ms" if 0 < half < math.inf else ""
        return tr_n("{number} phone", "{number} phones", len(here)) + bound

    def _observing(self) -> list[JoinedPhone]:
        return [each for each in self.phones.values() if each.observes]

    def confirm(self, number: int, *, name: str, roles: Sequence[str], fields: Sequence[str]) -> None:
        """Admit a phone with a name and roles, removing those it replaces (:meth:`rivals`)."""
        if number in self.phones:
            values = {"name": name, "roles": tuple(roles), "fields": tuple(fields)}
            joined = replace(self.phones[number], **values)  # type: ignore[arg-type]
            gone = [each for each in self.rivals(joined) if each.name == name]
            # what was measured is another phone's, and so it stays for one that stood in and comes again
            joined = replace(joined, stands_in=any(each.number != joined.before or each.stands_in for each in gone))
            for each in self.rivals(joined):
                self.refuse(each.number)
            self.phones[number] = joined
            self._order("confirm", phone=number, called=[tr(each) for each in fields], **values)

    def rivals(self, joined: JoinedPhone) -> list[JoinedPhone]:
        """Return the phones that one replaces: its predecessor, and those that no take can have beside it."""
        return rivals_of(joined, self.phones.values(), members=self._members)

    def refuse(self, number: int) -> None:
        """Remove a phone; its rows of a finished take stay."""
        if self.phones.pop(number, None) is not None:
            self._order("refuse", phone=number)

    def poll(self) -> list[SourceNews]:
        """Return what is new."""
        for event in self._read():
            self._hear(event)
        now = perf_counter()
        pending = self._ended and (self._collected is None or not self._collected.complete)
        if pending and not self._asking and now - self._asked > ASK_EVERY:
            # what is there is asked for once before it is judged without the rest, and again when that has come
            whole = self._collected is None and now - self._ended_at > ASK_WHOLE
            self._ask(whole=whole)
        if self._runs and now - self._told_readings > READINGS_EVERY:
            self._told_readings = now
            self._order("readings")
        news, self._news = self._news, []
        return news

    @property
    def _runs(self) -> bool:
        """Return whether a take with a worn phone is running."""
        return self._take > 0 and not self._ended and any("worn" in each.roles for each in self.phones.values())

    def readings(self) -> dict[str, list[Sequence[float]]]:
        """Return the readings since the last call, by the hand at which they are worn."""
        found: dict[str, list[Sequence[float]]] = {}
        for (_, hand), rows in self.readings_of_members().items():
            found.setdefault(hand, []).extend(rows)
        return found

    def readings_of_members(self) -> dict[tuple[str, str], list[Sequence[float]]]:
        """Return the readings since the last call, by member and hand."""
        readings, self._readings = self._readings, {}
        return readings

    def show(self, values: Mapping[str, object]) -> None:
        """Send the screen's display where it changed."""
        if values != self._shown:
            self._shown = dict(values)
            self._order("show", values=self._shown)

    def begin(self, plan: Plan, zero: float, beats: Sequence[Sequence[object]] = ()) -> None:
        """Open a take, and send its counts."""
        self._order("lay", values={"beats": [list(beat) for beat in beats]})
        self._take += 1
        self._ended, self._collected, self._plan_hands = False, None, plan.hands
        self._observed = bool(self._observing())
        self._rows, self._readings = [], {}
        self._asking = False
        self._order("begin", take=self._take, start=zero)

    def end(self, stamp: float) -> None:
        """Close the take."""
        self._ended, self._ended_at = True, perf_counter()
        self._order("end", stamp=stamp)
        self._ask(whole=False)

    def collected(self) -> Collected | None:
        """Return all that is known of the take."""
        return self._collected if self._observed or self._observing() else Collected()

    def collected_of(self, members: Sequence[str]) -> dict[str, Collected] | None:
        """Return the data of each member's take by the names of the phones; None like :meth:`collected`."""
        if self.collected() is None:
            return None
        return {name: self._gather([phone for phone in self._rows if phone["name"] == name]) for name in members}

    def close(self) -> None:
        """End the session: pages are informed, and the process ends."""
        for pipe in (self._process.stdin,):
            if pipe is not None:
                with suppress(OSError):
                    pipe.close()
        try:
            self._process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._selector.close()
        if self._process.stdout is not None:
            self._process.stdout.close()

    def _ask(self, *, whole: bool) -> None:
        """Request the data of the take, not again before the reply."""
        self._asking, self._asked = True, perf_counter()
        self._order("collect", whole=whole)

    def _order(self, what: str, **values: object) -> None:
        if self._process.stdin is None or self._process.stdin.closed:
            return
        with suppress(OSError):  # a process that has gone is noticed by the end of what it says
            self._process.stdin.write(json.dumps({"order": what, **values}).encode() + b"\n")
            self._process.stdin.flush()

    def _read(self) -> list[dict[str, Any]]:
        out = self._process.stdout
        if out is None or out.closed or not self._selector.get_map():
            return []
        while self._selector.select(0):
            piece = os.read(out.fileno(), 1 << 18)
            if not piece:
                self._selector.unregister(out)
                self.trouble = self.trouble or Notice(Code.PHONES_GONE)
                self._news.append(self.trouble)
                break
            self._said += piece
        *lines, self._said = self._said.split(b"\n")
        return [json.loads(line) for line in lines]

    def _hear(self, event: dict[str, Any]) -> None:
        phone = self.phones.get(event.get("phone", 0))
        match event["event"]:
            case "listening":
                self._port, self.fingerprint = event["port"], event["fingerprint"]
                self.url = f"https://{self.address}:{self._port}/#t={event['token']}"
            case "token":
                self.url = f"https://{self.address}:{self._port}/#t={event['token']}"
            case "refused":
                self.trouble = Notice(Code.PHONES_REFUSED, (f"{self.address}:{self._port}", event["errno"]))
            case "asks":
                self.phones[event["phone"]] = JoinedPhone(event["phone"], event["sign"], before=event["before"])
                if not self.watched:
                    self._news.append(Notice(Code.PHONE_ASKS, (event["sign"],)))
            case "remote":
                self._news.append(Remote.END if event["wanted"] else Remote.START)
            case "collected" if event["take"] == self._take:
                self._asking, self._rows = False, event["phones"]
                self._collected = self._gather(self._rows)
            case "waiting":
                self._asking = False
            case _ if phone is not None:
                self._hear_of(phone, event)

    def _hear_of(self, phone: JoinedPhone, event: dict[str, Any]) -> None:
        called = phone.name or phone.sign
        match event["event"]:
            case "tap" if event["take"] == self._take and event["hand"] in self._plan_hands:
                late = self._late(phone.number, phone.name) or 0.0
                self._news.append(SourceOnset(event["hand"], event["stamp"] - late, phone.name))
            case "readings" if phone.fields and "worn" in phone.roles:
                late = self._late(phone.number, phone.name) or 0.0
                mine = self._readings.setdefault((phone.name, phone.fields[0]), [])
                mine += [[row[0] - late, *row[1:]] for row in event["rows"]]
            case "line":
                self.phones[phone.number] = replace(phone, half_width=event["half"])
            case "silent" | "back":
                self.phones[phone.number] = replace(phone, silent=event["event"] == "silent")
                if phone.roles:
                    code = Code.PHONE_SILENT if event["event"] == "silent" else Code.PHONE_BACK
                    self._news.append(Notice(code, (called,)))
            case "jumped":
                self._news.append(Notice(Code.PHONE_JUMPED, (called,)))
            case "mark" if event["mark"] in _MARKS:
                self._news.append(Notice(_MARKS[Mark(event["mark"])], (called,)))

    def _late(self, number: int, name: str) -> float | None:
        """Return the measured delay of a phone; None where it was not measured, or belongs to another one."""
        phone = self.phones.get(number)
        return None if phone is not None and phone.stands_in else self._latency_of(name)

    def _gather(self, phones: list[dict[str, Any]]) -> Collected:
        onsets: list[tuple[float, str]] = []
        readings: dict[str, list[list[float]]] = {}
        gaps: list[tuple[float, float]] = []
        steps = [1 / PANEL_HZ]
        known = []
        for phone in phones:
            measured = self._late(phone["phone"], phone["name"])
            late = measured or 0.0
            known.append(measured is not None)
            onsets += [(stamp - late, hand) for stamp, _, hand in phone["taps"] if hand in self._plan_hands]
            if "worn" in phone["roles"] and phone["fields"]:
                rows = [[row[0] - late, *row[1:]] for row in phone["readings"]]
                readings.setdefault(phone["fields"][0], []).extend(rows)
                gaps += [(row[0], after[0]) for row, after in pairwise(rows) if _is_gap(row, after)]
                gaps += [(start, end) for start, end in phone["hidden"]]
                if len(rows) > 1:
                    steps.append((rows[-1][0] - rows[0][0]) / (len(rows) - 1))
        return Collected(
            onsets=sorted(onsets),
            readings={hand: sorted(rows) for hand, rows in readings.items()},
            half_width=max((phone["half"] for phone in phones), default=0.0),
            # a touch or a reading is as old as the step between two of them at the most, any age being as likely
            noise_floor_ms=1000
            * (steps[0] if self.observed_by == "phone" else max(steps[1:] or steps))
            / math.sqrt(12),
            gaps=sorted(gaps),
            complete=all(phone["complete"] for phone in phones),
            calibrated=bool(known) and all(known),
        )


def _is_gap(row: Sequence[float], after: Sequence[float]) -> bool:
    return after[0] - row[0] > READING_GAP
