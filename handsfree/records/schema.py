"""The tables, as SQL whose comments say what each column holds; the schema page is made from them.

Two kinds of tables. *Facts* are append-only: triggers refuse to change or delete a row. *Standing
rows* hold what is known now, written in the same transaction as the fact that changed it: people,
dogs and lumps are what their edits add up to, field by field; of an exam only its end is ever set,
and that is what its exam_states say.

Every row has the same five columns first: key, UTC time, offset of local time, station, person.
Released statements are never edited: a change is a new migration.
"""

from __future__ import annotations

from handsfree.records.schema_kennel import FACTS_6, FACTS_7, tables_6, tables_7

__all__ = ["APPLICATION_ID", "FACTS", "TABLES", "append_only_triggers"]

APPLICATION_ID = 0x48464458
"""Marks a file as ours in SQLite's header ("HFDX"); a foreign database is refused."""

_HEAD = """
    id TEXT PRIMARY KEY NOT NULL, -- UUID version 7, time-ordered
    at TEXT NOT NULL, -- UTC, ISO 8601 with microseconds and Z
    offset_min INTEGER NOT NULL, -- local time was this many minutes east of UTC
    station_id TEXT NOT NULL, -- the station on which the row was made
    person_id TEXT, -- who made it; NULL if nobody was named"""

_TABLES_1 = (
    f"""CREATE TABLE stations ( -- the machines on which records are made{_HEAD}
    name TEXT NOT NULL, -- as people call it
    own INTEGER NOT NULL -- 1 for the station that this file belongs to
)""",
    f"""CREATE TABLE edits ( -- fact: one field of a dog, person, lump or setting was set{_HEAD}
    entity TEXT NOT NULL, -- dog, person, lump, setting
    entity_id TEXT NOT NULL, -- its key; empty for settings that all stations share
    field TEXT NOT NULL, -- which field
    value TEXT NOT NULL -- what it was set to, as JSON
)""",
    "CREATE INDEX edits_of ON edits (entity, entity_id, field, at, id)",
    f"""CREATE TABLE people ( -- who checks dogs, as known now{_HEAD}
    name TEXT NOT NULL, -- any text
    sight TEXT, -- full, low, none; NULL: as the settings say
    helper INTEGER NOT NULL, -- 1: a sighted person is usually there as well
    rate_wpm INTEGER, -- speaking rate, words a minute; NULL: as the settings say
    voice TEXT, -- name of the voice; NULL: as the settings say
    brief INTEGER, -- 1 short prompts, 0 full ones, NULL by the rounds done
    disabled_at TEXT -- when disabled, as ISO 8601 with offset; NULL while active
)""",
    f"""CREATE TABLE dogs ( -- the dogs, as known now{_HEAD}
    name TEXT NOT NULL, -- any text
    birth TEXT, -- date; NULL if unknown
    birth_precision TEXT, -- day, month, year: how exact it is
    sex TEXT NOT NULL, -- female, male, unknown
    neutered TEXT NOT NULL, -- yes, no, unknown
    breed TEXT NOT NULL, -- breed or kind, free words
    looks TEXT NOT NULL, -- colour and marks, free words
    shape TEXT NOT NULL, -- usual, flat_faced, sighthound, giant, toy, long_backed
    size TEXT, -- toy, small, medium, large, giant; NULL if unknown
    missing TEXT NOT NULL, -- parts that it lacks, JSON array of tokens
    dewclaws INTEGER NOT NULL, -- 1 if it has any
    pigmented_gums INTEGER NOT NULL, -- 1 if gums are dark by nature
    season_began TEXT, -- date; NULL if unknown
    pregnant INTEGER NOT NULL, -- 1 if known or possible
    conditions TEXT NOT NULL, -- known conditions, JSON array of tokens
    medicines TEXT NOT NULL, -- medicines that mask signs, JSON array of tokens
    muzzle_trained INTEGER NOT NULL, -- 1 if it wears a muzzle calmly
    has_bitten INTEGER NOT NULL, -- 1 if it has bitten or snapped when handled
    handling TEXT NOT NULL, -- handling history, free words
    known TEXT NOT NULL, -- other known normals, JSON array of sentences
    chip TEXT, -- microchip number; NULL if unknown
    owner TEXT NOT NULL, -- whose dog, free words
    retired_at TEXT, -- when retired, as ISO 8601 with offset; NULL while looked after
    retired_why TEXT NOT NULL -- why
)""",
    f"""CREATE TABLE exams ( -- one check of one dog; person_id is who leads it{_HEAD}
    dog_id TEXT NOT NULL, -- the dog
    routine TEXT NOT NULL, -- routine id
    protocol TEXT NOT NULL, -- version of the check's data
    grammars TEXT NOT NULL, -- hash over the grammar files
    engine TEXT NOT NULL, -- recogniser and model, with versions
    rules TEXT NOT NULL, -- version of the judgement rules
    program TEXT NOT NULL, -- version of the program
    follows TEXT, -- the unfinished exam before it, if its key items are asked anew
    outcome TEXT, -- complete, partial, paused; NULL while it runs or after a crash
    outcome_why TEXT NOT NULL, -- stale: left alone for too long
    ended_at TEXT, -- UTC like at; NULL until it ended
    ended_offset_min INTEGER -- as offset_min
)""",
    "CREATE INDEX exams_of_dog ON exams (dog_id, at)",
    "CREATE INDEX exams_of_person ON exams (person_id, outcome)",
    f"""CREATE TABLE exam_states ( -- fact: an exam began, paused, was resumed, ended{_HEAD}
    exam_id TEXT NOT NULL, -- its exam
    state TEXT NOT NULL, -- begun, paused, resumed, complete, partial
    why TEXT NOT NULL -- stale, or empty
)""",
    "CREATE INDEX exam_states_of ON exam_states (exam_id)",
    f"""CREATE TABLE answers ( -- fact: one answer, stored before it is spoken of{_HEAD}
    exam_id TEXT NOT NULL, -- its exam
    dog_id TEXT NOT NULL, -- its dog
    ref INTEGER NOT NULL, -- number within the exam, rising
    corrects TEXT, -- the answer that this one corrects
    item TEXT NOT NULL, -- region.question
    side TEXT, -- side; NULL if it has none
    status TEXT NOT NULL, -- observed, not_observed, not_applicable
    reason TEXT, -- why, unless observed
    value_text TEXT, -- the value where it is a token
    value_number REAL, -- the value where it is a number
    unit TEXT, -- unit of the number
    words TEXT NOT NULL, -- words heard
    candidates TEXT NOT NULL, -- what hearing offered, JSON array, best first
    confirmed TEXT NOT NULL, -- as first stored: unconfirmed, confirmed, possible
    stream TEXT NOT NULL, -- audio stream of the samples
    start_sample INTEGER NOT NULL, -- first sample of the utterance
    end_sample INTEGER NOT NULL, -- one past its last
    attempt INTEGER NOT NULL, -- 1 for the first asking
    by TEXT NOT NULL, -- voice, keys, touch, machine
    method TEXT NOT NULL -- how a number was taken, JSON array of pairs
)""",
    "CREATE UNIQUE INDEX answers_of_exam ON answers (exam_id, ref)",
    "CREATE INDEX answers_of_item ON answers (dog_id, item, at)",
    f"""CREATE TABLE confirmations ( -- fact: an answer was settled; the last one counts{_HEAD}
    answer_id TEXT NOT NULL, -- the answer
    confirmed TEXT NOT NULL -- confirmed, possible, unconfirmed
)""",
    "CREATE INDEX confirmations_of ON confirmations (answer_id, id)",
    f"""CREATE TABLE measurements ( -- fact: one raw repeat of a measurement{_HEAD}
    exam_id TEXT NOT NULL, -- its exam
    dog_id TEXT NOT NULL, -- its dog
    item TEXT NOT NULL, -- region.question
    side TEXT, -- side; NULL if it has none
    kind TEXT NOT NULL, -- refill, window, said
    ordinal INTEGER NOT NULL, -- 1 for the first repeat
    stream TEXT NOT NULL, -- audio stream of the samples
    samples TEXT NOT NULL, -- named sample positions, JSON array of pairs
    value REAL, -- in unit; NULL where spoiled
    unit TEXT NOT NULL, -- its unit
    spoiled TEXT NOT NULL, -- why it does not count; empty if it does
    doubtful INTEGER NOT NULL -- 1 if timing is in doubt
)""",
    "CREATE INDEX measurements_of_exam ON measurements (exam_id)",
    f"""CREATE TABLE exam_facts ( -- fact of an exam that is no answer{_HEAD}
    exam_id TEXT NOT NULL, -- its exam
    name TEXT NOT NULL, -- what kind of fact
    detail TEXT NOT NULL -- JSON array of pairs
)""",
    "CREATE INDEX exam_facts_of ON exam_facts (exam_id)",
    f"""CREATE TABLE events ( -- fact: a stretch of an exam's event log, for replay{_HEAD}
    exam_id TEXT NOT NULL, -- its exam
    seq INTEGER NOT NULL, -- position of the first event in it, from 0
    count INTEGER NOT NULL, -- number of events in it
    form INTEGER NOT NULL, -- version of their JSON form
    lines TEXT NOT NULL, -- one event a line, JSON
    digests TEXT NOT NULL -- one digest a line: the actions that each event led to
)""",
    "CREATE UNIQUE INDEX events_of_exam ON events (exam_id, seq)",
)

_TABLES_2 = (
    f"""CREATE TABLE weights ( -- fact: a weight that was entered by hand{_HEAD}
    dog_id TEXT NOT NULL, -- the dog
    taken_at TEXT NOT NULL, -- when it was taken, UTC like at
    taken_offset_min INTEGER NOT NULL, -- as offset_min
    weight_kg REAL, -- kilograms; NULL withdraws the row that is corrected
    how TEXT NOT NULL, -- scale or way, free words
    corrects TEXT -- the row that this one corrects
)""",
    "CREATE INDEX weights_of_dog ON weights (dog_id, taken_at)",
    f"""CREATE TABLE lumps ( -- known lumps, asked after by name{_HEAD}
    dog_id TEXT NOT NULL, -- the dog
    key TEXT NOT NULL, -- stable within the dog: lump1; the side of its answers
    place TEXT NOT NULL, -- as spoken
    found_exam_id TEXT, -- the exam in which it was found; NULL if entered by hand
    found_side TEXT, -- its side in that exam: new1
    vet_result TEXT, -- what a vet found, free words
    gone_at TEXT -- when removed or no longer found, ISO 8601 with offset
)""",
    "CREATE UNIQUE INDEX lumps_of_dog ON lumps (dog_id, key)",
)

_TABLES_3 = (
    f"""CREATE TABLE results ( -- fact: an exam was judged under one version of the rules{_HEAD}
    exam_id TEXT NOT NULL, -- the exam
    dog_id TEXT NOT NULL, -- its dog
    rules TEXT NOT NULL, -- version of the rule table
    level TEXT NOT NULL, -- the level that came out
    body TEXT NOT NULL -- what fired, what changed, what was not covered, JSON
)""",
    "CREATE INDEX results_of_exam ON results (exam_id, id)",
    "CREATE INDEX results_of_dog ON results (dog_id, id)",
)

_TABLES_4 = ("CREATE INDEX answers_that_correct ON answers (corrects) WHERE corrects IS NOT NULL",)

_TABLES_5 = (
    f"""CREATE TABLE photos ( -- fact: a photo was kept with a finding{_HEAD}
    dog_id TEXT NOT NULL, -- the dog
    exam_id TEXT, -- the exam that it belongs to; NULL if none
    item TEXT NOT NULL, -- region.question
    side TEXT, -- side or lump; NULL if it has none
    kind TEXT NOT NULL, -- media type: image/jpeg, image/png
    width INTEGER NOT NULL, -- pixels
    height INTEGER NOT NULL, -- pixels
    note TEXT NOT NULL, -- free words
    data BLOB NOT NULL -- the picture, without metadata
)""",
    "CREATE INDEX photos_of_dog ON photos (dog_id, id)",
)

TABLES: dict[int, tuple[str, ...]] = {
    1: _TABLES_1,
    2: _TABLES_2,
    3: _TABLES_3,
    4: _TABLES_4,
    5: _TABLES_5,
    6: tables_6(_HEAD),
    7: tables_7(_HEAD),
}
"""Statements that each version of the schema adds."""

FACTS: dict[int, tuple[str, ...]] = {
    1: (
        "edits",
        "exam_states",
        "answers",
        "confirmations",
        "measurements",
        "exam_facts",
        "events",
    ),
    2: ("weights",),
    3: ("results",),
    4: (),
    5: ("photos",),
    6: FACTS_6,
    7: FACTS_7,
}
"""Tables of facts that each version adds; none of their rows is ever changed."""


def append_only_triggers(table: str) -> tuple[str, str]:
    """Return the statements that make ``table`` refuse changes and deletions."""
    refuse = f"BEGIN SELECT RAISE(ABORT, 'rows of {table} are never changed'); END"
    return (
        f"CREATE TRIGGER {table}_keep_changed BEFORE UPDATE ON {table} {refuse}",
        f"CREATE TRIGGER {table}_keep_deleted BEFORE DELETE ON {table} {refuse}",
    )
