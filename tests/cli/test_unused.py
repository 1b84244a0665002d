"""Options that a command has no use for: refused before anything is done, never ignored."""

import pytest

from tempo_coach.cli import build_parser, main


@pytest.fixture
def folder(tmp_path, monkeypatch):
    (tmp_path / "onsets.csv").write_text("time,hand\n" + "".join(f"{4.8 + 0.6 * k:.2f},right\n" for k in range(8)))
    (tmp_path / "trace.csv").write_text(
        "time_s,x_m,y_m\n" + "".join(f"{k / 50},{k % 50},{k % 7}\n" for k in range(500))
    )
    monkeypatch.chdir(tmp_path)
    return tmp_path


REFUSED = [
    ("score onsets.csv --drill clubs_mills --clap 1 2", "--clap"),
    ("score onsets.csv --drill clubs_mills --point wrist", "--point"),
    ("score onsets.csv --drill clubs_mills --from 1", "--from"),
    ("score onsets.csv --drill clubs_mills --started 2031-05-04T18:15", "--started"),
    ("score onsets.csv --drill clubs_mills --marker red", "--marker"),
    ("score onsets.csv --drill clubs_mills --fps 30", "--fps"),
    ("score onsets.csv --drill clubs_mills --slowed 4", "--slowed"),
    ("score onsets.csv --drill clubs_mills --film-from 1", "--film-from"),
    ("score onsets.csv --drill clubs_mills --note x", "--note"),
    ("score onsets.csv --drill clubs_mills --begun 2031-05-04", "--begun"),
    ("score onsets.csv --drill clubs_mills --routine x", "--routine"),
    ("score onsets.csv --plan plan.json --tempo 100", "--tempo"),
    ("score onsets.csv --plan plan.json --speed 1", "--speed"),
    ("score --take x.jsonl --mirrored", "--mirrored"),
    ("score --take x.jsonl --columns x,y", "--columns"),
    ("score --take x.jsonl --clap 1 2", "--clap"),
    ("score --sound x.wav --plan plan.json --at 1 2 3", "--at"),
    ("score --film x.mp4 --kind clap --plan plan.json --period 1", "--period"),
    ("cue clubs_mills --json --rate 44100", "--rate"),
    ("practise clubs_mills --watch --coach", "--coach"),
    ("practise clubs_mills --watch --kind clap", "--kind"),
    ("practise clubs_mills --kind clap --coach", "--coach"),
    ("practise clubs_mills --watch --keys jf", "--keys"),
    ("practise clubs_mills --now --on-clap", "--now"),
    ("practise clubs_mills --rest 10", "--rest"),
    ("listen x.wav --known beats.txt --tempo 100", "--tempo"),
    ("counts x.wav --known beats.txt --tempo 100", "--tempo"),
    ("counts x.toml --routine y.toml", "--routine"),
    ("check --list --json", "--json"),
    ("check --list --code x", "--code"),
    ("trace trace.csv --json --picture", "--picture"),
    ("toss --counts 4 --tempo 100 --point wrist", "--point"),
    ("toss --counts 4 --tempo 100 --from-eight 1", "--from-eight"),
    ("toss --counts 4 --tempo 100 --routine x.toml", "--tempo"),
    ("toss --table --tempo 100 --counts 4", "--counts"),
    ("toss --table --tempo 100 --svg x.svg", "--svg"),
    ("toss --trace trace.csv --apparatus ball", "--apparatus"),
    ("toss --trace trace.csv --on 3", "--on"),
    ("group a.csv --tempo 100 --eights 2", "--eights"),
    ("group a.csv --plan plan.json --tempo 100", "--tempo"),
    ("group a.csv --tempo 100 --screen --json", "--json"),
    ("report 1 --tempo 100 --out x.html", "--tempo"),
    ("report 1 --title x --out x.html", "--title"),
    ("report 1 --drill clubs_mills --out x.html", "--drill"),
    ("report 1 --since today --out x.html", "--since"),
    ("report x.jsonl --file h.sqlite --out x.html", "--file"),
    ("report a.csv --group --file h.sqlite --out x.html", "--file"),
    ("calibrate --show --clicks 20", "--clicks"),
    ("calibrate --openings 3", "--openings"),
    ("calibrate --microphone --clicks 20", "--clicks"),
    ("drills --mirrored", "--mirrored"),
    ("drills show clubs_mills --table", "--table"),
    ("drills show clubs_mills --hands left", "--hands"),
    ("drills list --lag 0", "--lag"),
    ("drills --table --json", "--json"),
    ("drills new x --json", "--json"),
    ("drills list clubs_mills", "clubs_mills"),
    ("history --show 1 --athlete Ada", "--athlete"),
    ("history --check --last 3", "--last"),
    ("history --trend --csv x.csv", "--csv"),
    ("history --csv x.csv --json", "--json"),
    ("history --backup x --json", "--json"),
    ("history --jobs 2", "--jobs"),
    ("history --backend local", "--backend"),
    ("history --begun 2031-05-04", "--begun"),
    ("history --screen --last 3", "--last"),
    ("history --take-in x --drill clubs_mills", "--drill"),
]


def test_each_is_refused_and_nothing_is_done(folder, capsys):
    there = sorted(folder.iterdir())
    for words, option in REFUSED:
        assert main(words.split()) == 2, words
        caught = capsys.readouterr()
        assert caught.out == "", words
        assert caught.err.startswith(f"tempo-coach: {option}: ") and caught.err.count("\n") == 1, (words, caught.err)
        assert sorted(folder.iterdir()) == there, words


def test_what_was_given_is_told_from_what_is_there_by_default():
    parse = build_parser().parse_args
    assert parse(["cue", "x", "--speed", "1", "--mirrored"]).given == {"speed", "mirrored"}
    bare = parse(["score", "x", "--plan", "p"])
    assert (bare.given, bare.speed, bare.marker, bare.note, bare.columns) == ({"plan"}, 1.0, [], "", ())
    assert parse(["score", "--tak", "x", "--marker", "red", "--marker", "left=blue"]).marker == ["red", "left=blue"]
    assert parse(["--plain", "history"]).plain and parse(["history", "--plain"]).plain
    assert not parse(["history"]).plain
