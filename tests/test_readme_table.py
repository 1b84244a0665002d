"""The README's table of drills is the one that the drills' own files give."""

from pathlib import Path

from tempo_coach.pattern.drill.drill_file import list_drills, read_drill
from tempo_coach.report.pages.library import library_table

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
