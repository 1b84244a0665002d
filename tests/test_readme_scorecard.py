"""The README's table of a scorecard is the one that the program's own words give; run as a program it is put there."""

from pathlib import Path

from tempo_coach.report.words.measures import MEANINGS

README = Path(__file__).parents[1] / "README.md"
BEGIN = "<!-- scorecard: `python -m tests.test_readme_scorecard` writes what stands between these two lines -->"
END = "<!-- end of scorecard -->"


def write_table() -> str:
    """The names of a scorecard's JSON and their meanings as a table of Markdown."""
    rows = [f"| {', '.join(f'`{name}`' for name in names)} | {meaning} |" for names, meaning in MEANINGS]
    return "\n".join(("| name | definition |", "|---|---|", *rows))


def made() -> str:
    """The README with the table as it has to be."""
    before, rest = README.read_text(encoding="utf-8").split(BEGIN)
    return f"{before}{BEGIN}\n{write_table()}\n{END}{rest.split(END)[1]}"


def test_the_table_of_a_scorecard_is_current():
    assert README.read_text(encoding="utf-8") == made(), "run `.venv/bin/python -m tests.test_readme_scorecard`"


if __name__ == "__main__":
    README.write_text(made(), encoding="utf-8")
