"""Tables of onsets and of members as people of several languages write them, and whether they are read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.observe.member_rows import read_members
from tempo_coach.observe.take.onsets import read_onsets
from tempo_coach.report.words.errors import say_error

if TYPE_CHECKING:
    from pathlib import Path

#: Tables of onsets: name, content; all of right at 1.5 s and left at 2.25 s.
ONSETS = {
    "German": "Zeit;Hand\n1,5;rechts\n2,25;links\n".encode("cp1252"),
    "German in ms, tabs": b"Zeit (ms)\tHand\n1500\tR\n2250\tL\n",
    "French": b"temps;main\n1,5;droite\n2,25;gauche\n",
    "Spanish": "tiempo,mano,remarca\n1.5,derecha,señal\n2.25,izquierda,\n".encode("cp1252"),
    "Italian": "tempo;mano\n1,5;destra\n2,25;sinistra\n".encode("utf-16"),
    "comments above": b"# tapped by the coach\ntime,hand\n1.5,right\n2.25,left\n",
    "quoted": b'"hand","time"\n"right","1.5"\n"left","2.25"\n',
}
#: Tables of members: Ada at 1.5 s and Zoë at 2.25 s.
MEMBERS = {
    "German": "Zeit;Mitglied\n1,5;Ada\n2,25;Zoë\n".encode("cp1252"),
    "French": "temps;nom\n1,5;Ada\n2,25;Zoë\n".encode(),
    "Spanish": "tiempo;miembro\n1,5;Ada\n2,25;Zoë\n".encode("utf-16"),
    "Italian": "tempo\tmembro\n1,5\tAda\n2,25\tZoë\n".encode(),
}


def judge_onsets(content: bytes, folder: Path) -> str:
    """Return what is wrong with the onsets that a table gives."""
    path = folder / "onsets.csv"
    path.write_bytes(content)
    try:
        onsets = read_onsets(path, hands=("right", "left"))
    except CoachError as error:
        return f"refused: {say_error(error)}"
    found = list(zip(onsets.time.tolist(), onsets.hand, strict=True))
    return "" if found == [(1.5, "right"), (2.25, "left")] else f"got {found}"


def judge_members(content: bytes, folder: Path) -> str:
    """Return what is wrong with the members that a table gives."""
    path = folder / "members.csv"
    path.write_bytes(content)
    try:
        found = {member: rows.time for member, rows in read_members(path).items()}
    except CoachError as error:
        return f"refused: {say_error(error)}"
    return "" if found == {"Ada": (1.5,), "Zoë": (2.25,)} else f"got {found}"
