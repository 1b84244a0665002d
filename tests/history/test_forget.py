"""What is forgotten is gone, in the file too."""

import pytest

from tempo_coach.history import file, schema
from tempo_coach.history.forget import find_going, forget
from tempo_coach.history.records import Wanted
from tempo_coach.history.store import Store, copies_of
from tempo_coach.history.takes import History
from tests.history.season import lay, make_take, put, said_of
from tests.refused import refused

SECRET = "Xylophia-Qwertz"  # invented, and found nowhere else


def season(path, folder):
    folder.mkdir()
    with History(path) as history:
        for seed in range(1, 7):
            file = folder / f"{seed}.take.jsonl"
            file.write_text(f'{{"take": 1, "mark": "{SECRET}"}}\n' * 50)
            who, other = ("Bea", SECRET) if seed % 2 else (SECRET, "Bea")
            put(
                history,
                seed,
                athlete=who,
                begun=f"2031-05-{seed:02d}",
                note=f"{who} is not {other[:3]}",
                setup={"file": str(file)},
            )
        history.put_note(f"{SECRET} has a cold", written="2031-05-09", athlete=SECRET)
        own = make_take(8, tempo_bpm=77)
        history.put(own, said_of(8), athlete=SECRET, begun="2031-05-10", steady=True)


def everything_beside(path):
    return b"".join(file.read_bytes() for file in sorted(path.parent.glob(f"*{path.name}*")))


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "history.sqlite"
    season(path, tmp_path / "takes")
    return path


def test_what_goes_is_shown_first(path, tmp_path):
    with History(path) as history:
        going = find_going(history, SECRET)
    assert (going.athlete, going.takes, going.onsets, going.cards, going.notes) == (SECRET, 4, 64, 4, 4)
    assert (going.first[:10], going.last[:10]) == ("2031-05-02", "2031-05-10")
    assert [file.name for file in going.files] == ["2.take.jsonl", "4.take.jsonl", "6.take.jsonl"]
    assert SECRET.encode() in everything_beside(path)  # looking removes nothing


def test_no_byte_of_her_is_left_and_nothing_of_others_goes(path, tmp_path):
    other = Store(path)
    other.close()
    with History(path) as history:
        times = history.take(history.find(Wanted(athlete=SECRET))[0].number).take.onsets.time.astype("<f8").tobytes()
        assert times in everything_beside(path)
        forget(history, find_going(history, SECRET))
        assert [athlete.name for athlete in history.athletes()] == ["Bea"]
        assert history.ask("PRAGMA journal_mode")[0][0] == "wal"
        history.check()
        left = everything_beside(path)
        assert SECRET.encode() not in left
        assert times not in left
        assert len(history.find()) == 3
        assert [len(history.take(row.number).notes) for row in history.find()] == [1, 1, 1]
        plans = {history.take(row.number).take.plan.tempo_bpm for row in history.find()}
        assert plans == {lay().tempo_bpm}
        assert history.ask("SELECT count(*) FROM plan")[0][0] == 1  # the one that only she had is gone
        put(history, 9)
    assert sorted(file.name for file in (tmp_path / "takes").iterdir()) == [f"{k}.take.jsonl" for k in (1, 3, 5)]


def test_copies_that_the_program_made_forget_her_too(path, monkeypatch):
    further = ("ALTER TABLE athlete ADD COLUMN squad TEXT",)
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, further))
    with History(path) as history:
        (copy,) = copies_of(path)
        assert SECRET.encode() in copy.read_bytes()
        going = find_going(history, SECRET)
        assert going.copies == (copy,)
        forget(history, going)
    assert SECRET.encode() not in everything_beside(path)
    assert b"Bea" in copy.read_bytes()


def test_nothing_goes_while_another_program_reads(path, monkeypatch):
    monkeypatch.setattr(file, "PATIENCE", 0.1)
    with History(path) as reader, History(path) as history:
        reader.find()
        going = find_going(history, SECRET)
        with refused("nothing was removed"):
            forget(history, going)
        assert find_going(history, SECRET) == going
    with History(path) as history:
        forget(history, going)


def test_a_file_that_is_not_a_take_s_own_stays(path, tmp_path):
    mine = tmp_path / "onsets.csv"
    mine.write_text("time,hand\n")
    with History(path) as history:
        put(history, 11, athlete=SECRET, begun="2031-06-01", setup={"file": str(mine)})
        put(history, 12, athlete=SECRET, begun="2031-06-02", setup={"file": str(tmp_path / "gone.take.jsonl")})
        forget(history, find_going(history, SECRET))
    assert mine.exists()


def test_who_is_not_there_cannot_be_forgotten(path):
    with History(path) as history, refused(f"did you mean {SECRET}"):
        find_going(history, SECRET[:-1])
