"""The tables, and how each version becomes the next.

Migrations are numbered from 1 and never change once they have been released. A later version gets the columns that are
new in it by itself (``since`` in :mod:`tempo_coach.history.columns`); what else it changes is written here. All
versions keep ``athlete.name`` and let everything of an athlete go with her row, because an athlete can be forgotten in
copies that an older version made.
"""

from __future__ import annotations

from tempo_coach.history.columns import COLUMNS, added_columns

#: Marks the file as ours: "TCHI" in ASCII (``PRAGMA application_id``).
APPLICATION_ID = 0x54434849

#: The statements of each version, but for columns that are new in a later one.
_WRITTEN: dict[int, tuple[str, ...]] = {
    1: (
        "CREATE TABLE athlete (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT",
        # a plan as it was, compressed JSON: a drill that is changed later changes no take; takes of one plan share it
        "CREATE TABLE plan (id INTEGER PRIMARY KEY, hash BLOB NOT NULL UNIQUE, body BLOB NOT NULL) STRICT",
        """CREATE TABLE take (
            id INTEGER PRIMARY KEY,
            athlete INTEGER NOT NULL REFERENCES athlete ON DELETE CASCADE,
            plan INTEGER NOT NULL REFERENCES plan,
            mark BLOB NOT NULL,
            begun TEXT NOT NULL,
            drill TEXT NOT NULL,
            title TEXT NOT NULL,
            routine TEXT,
            tempo_bpm REAL NOT NULL,
            speed REAL NOT NULL,
            seconds REAL NOT NULL,
            cycles INTEGER NOT NULL,
            moments INTEGER NOT NULL,
            observed_by TEXT NOT NULL,
            noise_floor_ms REAL,
            unmeasurable TEXT NOT NULL,
            ended TEXT NOT NULL,
            setup TEXT NOT NULL,
            UNIQUE (athlete, mark)
        ) STRICT""",
        "CREATE INDEX take_of_athlete ON take (athlete, begun)",
        "CREATE INDEX take_by_time ON take (begun)",
        "CREATE INDEX take_of_plan ON take (plan)",
        # columns of equal length: little-endian float64 seconds, and the place of each hand in the list of hands
        """CREATE TABLE onsets (
            take INTEGER PRIMARY KEY REFERENCES take ON DELETE CASCADE,
            number INTEGER NOT NULL,
            hands TEXT NOT NULL,
            time BLOB NOT NULL,
            hand BLOB NOT NULL
        ) STRICT""",
        # every scorecard that was ever made of a take; the one in force is current
        """CREATE TABLE card (
            id INTEGER PRIMARY KEY,
            take INTEGER NOT NULL REFERENCES take ON DELETE CASCADE,
            made TEXT NOT NULL,
            program TEXT NOT NULL,
            current INTEGER NOT NULL,
            n INTEGER NOT NULL,
            bias_ms REAL,
            spread_ms REAL,
            period_cv_pct REAL,
            period_ratio_mean REAL,
            drift_pct_per_cycle REAL,
            f_measure REAL,
            without_cues_bias_ms REAL,
            without_cues_spread_ms REAL,
            missed INTEGER NOT NULL,
            extra INTEGER NOT NULL,
            flagged INTEGER NOT NULL,
            steady INTEGER NOT NULL,
            sentence TEXT NOT NULL,
            body BLOB NOT NULL
        ) STRICT""",
        "CREATE INDEX card_of_take ON card (take)",
        "CREATE UNIQUE INDEX current_card ON card (take) WHERE current",
        """CREATE TABLE note (
            id INTEGER PRIMARY KEY,
            athlete INTEGER NOT NULL REFERENCES athlete ON DELETE CASCADE,
            take INTEGER REFERENCES take ON DELETE CASCADE,
            written TEXT NOT NULL,
            text TEXT NOT NULL
        ) STRICT""",
        "CREATE INDEX note_of_athlete ON note (athlete)",
        "CREATE INDEX note_of_take ON note (take)",
    ),
    2: (
        # the last correction of a take, with all of its rows as they were; it goes with whoever it was taken from or
        # given to
        """CREATE TABLE correction (
            id INTEGER PRIMARY KEY,
            athlete INTEGER NOT NULL REFERENCES athlete ON DELETE CASCADE,
            given INTEGER REFERENCES athlete ON DELETE CASCADE,
            take INTEGER NOT NULL,
            made TEXT NOT NULL,
            kind TEXT NOT NULL,
            before BLOB NOT NULL
        ) STRICT""",
        "CREATE INDEX correction_of_athlete ON correction (athlete)",
        "CREATE INDEX correction_of_given ON correction (given)",
        # marks of takes that were removed and of athletes who were forgotten, each with the salt: nobody's name and no
        # take can be read out of them, and no merge brings them back
        "CREATE TABLE gone (mark BLOB PRIMARY KEY) STRICT",
        "CREATE TABLE salt (salt BLOB NOT NULL) STRICT",
        "INSERT INTO salt VALUES (randomblob(16))",
        # how an athlete practises, as her file has it: only in what is handed over
        """CREATE TABLE person (
            athlete INTEGER PRIMARY KEY REFERENCES athlete ON DELETE CASCADE,
            body TEXT NOT NULL
        ) STRICT""",
    ),
    3: (
        # a group's figures of one performance; nobody's name is in it but in the rows of its members
        """CREATE TABLE performance (
            id INTEGER PRIMARY KEY,
            mark BLOB NOT NULL UNIQUE,
            team TEXT NOT NULL,
            begun TEXT NOT NULL,
            drill TEXT NOT NULL,
            title TEXT NOT NULL,
            moments INTEGER NOT NULL,
            together REAL,
            width_ms REAL,
            sd_ms REAL,
            program TEXT NOT NULL
        ) STRICT""",
        "CREATE INDEX performance_of_team ON performance (team, begun)",
        """CREATE TABLE performer (
            performance INTEGER NOT NULL REFERENCES performance ON DELETE CASCADE,
            athlete INTEGER NOT NULL REFERENCES athlete ON DELETE CASCADE,
            bias_ms REAL,
            offset_ms REAL,
            spread_ms REAL,
            n INTEGER NOT NULL,
            away INTEGER NOT NULL,
            UNIQUE (performance, athlete)
        ) STRICT""",
        "CREATE INDEX performance_of_athlete ON performer (athlete)",
    ),
}
NEWEST = max(*_WRITTEN, *(column.since for column in COLUMNS.values()))
MIGRATIONS: tuple[tuple[str, ...], ...] = tuple(
    _WRITTEN.get(version, ()) + added_columns(version) for version in range(1, NEWEST + 1)
)
