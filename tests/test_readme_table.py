"""The README's tables of drills and of ways to observe are those that files and registry give."""

from pathlib import Path

from tempo_coach.observe.observers import OBSERVERS, Floor, Source
from tempo_coach.pattern.drill.drill_file import list_drills, read_drill
from tempo_coach.report.pages.library import library_table
from tempo_coach.report.words.observers import WORDS

README = Path(__file__).parents[1] / "README.md"
BEGIN = "<!-- drills: tempo-coach drills --table writes what stands between these two lines -->"
END = "<!-- end of drills -->"


def test_the_table_of_drills_is_current():
    text = README.read_text(encoding="utf-8")
    assert text.count(BEGIN) == text.count(END) == 1
    stands = text.split(BEGIN)[1].split(END)[0].strip()
    assert stands == library_table(read_drill(path) for path in list_drills()).strip(), (
        "put the output of `tempo-coach drills --table` between the two marks of README.md"
    )


GIVEN_BY = {
    Source.KEYS: "keys while it plays",
    Source.PHONE: "phones while it plays",
    Source.SENDER: "a sender on a cable or the network while it plays",
    Source.SOUND: "a microphone, a recording, a film's sound",
    Source.FILM: "a film afterwards",
    Source.SENSOR: "a table of readings",
    Source.TABLE: "a table of times",
    Source.NOBODY: "nothing: it just plays",
}
ADDS = {
    Floor.SETUP: "as `calibrate` measures it",
    Floor.READINGS: "estimated from each take",
    Floor.UNKNOWN: "not measured",
}


def test_the_table_of_ways_to_observe_has_them_all_and_what_they_add():
    rows = ["| `observed_by` | said as | given by | SD of its own | clock and motor |", "|---|---|---|---|---|"]
    for key, observer in OBSERVERS.items():
        adds = ADDS[observer.floor] if observer.profile is None else f"{observer.profile.spread_ms:g} ms"
        split = "yes" if observer.splits else "no"
        rows.append(f"| `{key}` | {WORDS[key].said} | {GIVEN_BY[observer.source]} | {adds} | {split} |")
    assert "\n" + "\n".join(rows) + "\n" in README.read_text(encoding="utf-8"), "\n".join(rows)
