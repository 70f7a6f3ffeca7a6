"""The tables of a kennel and of sharing between stations: statements like those of ``schema``.

Standing rows for what is known now (sites, rows, pens, contacts, medicines, stays), facts for what
happened, and local tables that are never shared (what is still to be sent, where reading stands).
"""

from __future__ import annotations

__all__ = ["FACTS_6", "FACTS_7", "tables_6", "tables_7"]


def tables_6(head: str) -> tuple[str, ...]:
    """Return the statements of version 6; ``head`` is the five columns of every table."""
    return (
        f"""CREATE TABLE sites ( -- places where dogs are kept, as known now{head}
    name TEXT NOT NULL, -- as people call it
    gone_at TEXT -- when given up, ISO 8601 with offset; NULL while in use
)""",
        f"""CREATE TABLE kennel_rows ( -- rows of pens, as known now{head}
    site_id TEXT NOT NULL, -- its site
    name TEXT NOT NULL, -- as people call it
    position INTEGER NOT NULL, -- order of the round within its kind
    kind TEXT NOT NULL, -- young, healthy, intake, isolation
    gone_at TEXT -- when given up; NULL while in use
)""",
        f"""CREATE TABLE pens ( -- pens, as known now{head}
    row_id TEXT NOT NULL, -- its row
    name TEXT NOT NULL, -- as people call it
    position INTEGER NOT NULL, -- order within the row
    gone_at TEXT -- when given up; NULL while in use
)""",
        f"""CREATE TABLE contacts ( -- whom to call about a dog, as known now{head}
    dog_id TEXT NOT NULL, -- the dog
    kind TEXT NOT NULL, -- owner, vet, emergency
    name TEXT NOT NULL, -- who
    phone TEXT NOT NULL, -- telephone number; may be empty
    email TEXT NOT NULL, -- may be empty
    address TEXT NOT NULL, -- may be empty
    gone_at TEXT -- when it ceased to hold; NULL while it holds
)""",
        f"""CREATE TABLE medicines ( -- medicines as a vet has set them, as known now{head}
    dog_id TEXT NOT NULL, -- the dog
    name TEXT NOT NULL, -- what
    amount TEXT NOT NULL, -- how much each time, as the vet wrote it
    way TEXT NOT NULL, -- by mouth, on the skin ...
    interval_h REAL NOT NULL, -- hours from one dose to the next
    set_by TEXT NOT NULL, -- the vet who set it
    begins TEXT NOT NULL, -- first day
    ends TEXT, -- last day; NULL until told otherwise
    note TEXT NOT NULL, -- may be empty
    gone_at TEXT -- when it was ended; NULL while it holds
)""",
        f"""CREATE TABLE stays ( -- a dog's stay, as known now{head}
    dog_id TEXT NOT NULL, -- the dog
    arrived_on TEXT NOT NULL, -- date
    feeding TEXT NOT NULL, -- what, how much, when; may be empty
    care_plan TEXT NOT NULL, -- may be empty
    left_on TEXT -- date; NULL while it stays
)""",
        f"""CREATE TABLE placements ( -- fact: a dog was put into a pen, or left its pen{head}
    dog_id TEXT NOT NULL, -- the dog
    pen_id TEXT, -- the pen; NULL: it is in none
    why TEXT NOT NULL -- may be empty
)""",
        "CREATE INDEX placements_of ON placements (dog_id, at, id)",
        f"""CREATE TABLE doses ( -- fact: a dose was given, missed or refused{head}
    medicine_id TEXT NOT NULL, -- the medicine
    dog_id TEXT NOT NULL, -- the dog
    outcome TEXT NOT NULL, -- given, missed, refused
    amount TEXT NOT NULL, -- how much, as said
    given_at TEXT NOT NULL, -- when, UTC like at
    early INTEGER NOT NULL, -- 1 if confirmed although the interval had not passed
    corrects TEXT -- the row that this one corrects
)""",
        "CREATE INDEX doses_of ON doses (medicine_id, given_at)",
        f"""CREATE TABLE flags ( -- fact: a dog was flagged or cleared; the last one counts{head}
    dog_id TEXT NOT NULL, -- the dog
    kind TEXT NOT NULL, -- contagious, exposed, full_check
    raised INTEGER NOT NULL, -- 1 raised, 0 cleared
    why TEXT NOT NULL, -- the sign, or why cleared
    from_dog_id TEXT -- the dog with the sign, for one that shares its pen
)""",
        "CREATE INDEX flags_of ON flags (dog_id, kind, at, id)",
        f"""CREATE TABLE rounds ( -- fact: a round began{head}
    site_id TEXT, -- the site; NULL: all
    row_id TEXT -- the row; NULL: all
)""",
        f"""CREATE TABLE round_facts ( -- fact: what happened in a round{head}
    round_id TEXT NOT NULL, -- its round
    name TEXT NOT NULL, -- signed_in, seen, parked, not_seen, wrong_place, too_fast, ended
    dog_id TEXT, -- the dog, if it is about one
    exam_id TEXT, -- the dog's exam in this round
    detail TEXT NOT NULL -- JSON object
)""",
        "CREATE INDEX round_facts_of ON round_facts (round_id, id)",
        f"""CREATE TABLE tellings ( -- fact: who was told of a finding, or acknowledged it{head}
    dog_id TEXT NOT NULL, -- the dog
    exam_id TEXT NOT NULL, -- where it was found
    rule TEXT NOT NULL, -- what was found
    name TEXT NOT NULL, -- who was told, or who acknowledges
    told_at TEXT NOT NULL, -- when, as said; may be empty
    acknowledged INTEGER NOT NULL -- 1 if this acknowledges the finding
)""",
        "CREATE INDEX tellings_of ON tellings (exam_id, rule)",
        f"""CREATE TABLE settlements ( -- fact: which of several answers counts{head}
    dog_id TEXT NOT NULL, -- the dog
    answer_id TEXT NOT NULL, -- the answer that counts
    others TEXT NOT NULL -- the answers that do not, JSON array of keys
)""",
        f"""CREATE TABLE handovers ( -- fact: a shift was handed over{head}
    site_id TEXT, -- the site; NULL: all
    signed_by TEXT NOT NULL, -- name that signs
    body TEXT NOT NULL -- what was handed over, JSON
)""",
        f"""CREATE TABLE clock_checks ( -- fact: this station's clock beside the server's{head}
    server_ahead_s REAL NOT NULL, -- server minus station, seconds
    round_trip_s REAL NOT NULL -- how long asking took, seconds
)""",
        f"""CREATE TABLE retentions ( -- fact: old records were removed for good{head}
    before TEXT NOT NULL, -- what was made before this, UTC like at
    removed TEXT NOT NULL -- how many rows of which table, JSON object
)""",
        f"""CREATE TABLE sync_state ( -- local, not shared: where sharing stands{head}
    name TEXT NOT NULL, -- server, cursor, version, last
    value TEXT NOT NULL -- its value
)""",
        "CREATE UNIQUE INDEX sync_state_of ON sync_state (name)",
        """CREATE TABLE sync_out ( -- local, not shared: what the server has not confirmed yet
    n INTEGER, -- order of making
    tab TEXT NOT NULL, -- its table
    row_id TEXT NOT NULL -- its key
)""".replace("n INTEGER,", "n INTEGER PRIMARY KEY AUTOINCREMENT,"),
        """CREATE TABLE sync_held ( -- local, not shared: came from the server, cannot be placed yet
    id TEXT PRIMARY KEY NOT NULL, -- its key
    tab TEXT NOT NULL, -- its table
    body TEXT NOT NULL, -- the row, JSON object
    why TEXT NOT NULL -- newer: this program does not know it; early: its edits are not here yet
)""",
        # Two stations may number one exam's answers, or one dog's lumps, alike while apart.
        "DROP INDEX answers_of_exam",
        "CREATE UNIQUE INDEX answers_of_exam ON answers (exam_id, station_id, ref)",
        "DROP INDEX events_of_exam",
        "CREATE UNIQUE INDEX events_of_exam ON events (exam_id, station_id, seq)",
        "DROP INDEX lumps_of_dog",
        "CREATE INDEX lumps_of_dog ON lumps (dog_id, key)",
    )


FACTS_6 = (
    "placements",
    "doses",
    "flags",
    "rounds",
    "round_facts",
    "tellings",
    "settlements",
    "handovers",
    "clock_checks",
    "retentions",
)
"""Tables of facts that version 6 adds."""


def tables_7(head: str) -> tuple[str, ...]:
    """Return the statements of version 7: bites, and what sites and settling need."""
    return (
        f"""CREATE TABLE bites ( -- fact: a dog bit or snapped{head}
    dog_id TEXT NOT NULL, -- the dog
    happened_on TEXT NOT NULL, -- date
    whom TEXT NOT NULL, -- who or what was bitten
    what TEXT NOT NULL -- what led to it and what came of it, free words
)""",
        "CREATE INDEX bites_of ON bites (dog_id, happened_on)",
        "ALTER TABLE stays ADD COLUMN "
        "feeding_by TEXT NOT NULL DEFAULT '' -- who set the feeding; may be empty",
        "ALTER TABLE placements ADD COLUMN "
        "site_id TEXT -- the site, where the dog has no pen there yet; else NULL",
        "ALTER TABLE settlements ADD COLUMN "
        "why TEXT NOT NULL DEFAULT '' -- why this one counts; may be empty",
        """CREATE TABLE sync_judge ( -- local, not shared: checks to be judged anew
    exam_id TEXT PRIMARY KEY NOT NULL -- the check, of which answers came from elsewhere
)""",
        "CREATE INDEX settlements_of ON settlements (dog_id)",
        "CREATE INDEX exams_by_time ON exams (at)",
    )


FACTS_7 = ("bites",)
"""Tables of facts that version 7 adds."""
