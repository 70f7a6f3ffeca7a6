"""The day's record as a page to print: the fields that licensing rules commonly ask for.

A day-care register in England names date, dog, age, sex, neutering, chip, breed, owner, emergency
contact and usual vet (SI 2018/486, schedule 4, paragraph 25); other countries differ.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from handsfree.kennel.careplan import bites_of, here
from handsfree.kennel.handover import Handover
from handsfree.kennel.looks import IN_ONE_GO
from handsfree.records.dogs import age_in_words
from handsfree.records.model import Dog
from handsfree.records.store import Store

__all__ = ["day_page"]

_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Record of {{ day }}</title>
<style>
body { font: 11pt/1.35 sans-serif; margin: 1.5cm; }
table { border-collapse: collapse; width: 100%; }
th, td { border: 1px solid #555; padding: .15em .4em; text-align: left; vertical-align: top; }
thead { display: table-header-group; } tr, section { break-inside: avoid; }
</style></head><body>
<h1>Record of {{ day }}</h1>
{% if signed %}<p>Signed: {{ signed }}</p>{% endif %}
{% for heading, lines in parts %}<section><h2>{{ heading }}</h2>
{% if lines %}<ul>{% for line in lines %}<li>{{ line }}</li>{% endfor %}</ul>
{% else %}<p>None.</p>{% endif %}</section>{% endfor %}
<h2>The dogs</h2>
<table><thead><tr><th>Dog, pen</th><th>Age, sex, neutered</th><th>Chip</th><th>Breed, looks</th>
<th>Stay, care</th><th>Contacts</th><th>This day</th></tr></thead><tbody>
{% for dog in dogs %}<tr><td>{{ dog.name }}<br>{{ dog.pen }}</td><td>{{ dog.who }}</td>
<td>{{ dog.chip }}</td><td>{{ dog.breed }}</td>
<td>{% for c in dog.care %}{{ c }}<br>{% endfor %}</td>
<td>{% for c in dog.contacts %}{{ c }}<br>{% endfor %}</td>
<td>{% for a in dog.answers %}{{ a }}<br>{% else %}not observed{% endfor %}</td></tr>
{% endfor %}</tbody></table></body></html>
"""


def day_page(store: Store, handover: Handover, *, signed: str = "") -> str:
    """Return the page as HTML."""
    from jinja2 import Environment

    now = handover.until
    start = datetime.combine(now.date(), datetime.min.time(), tzinfo=now.tzinfo)
    placed = store.kennel.placed()
    people = {person.id: person.name for person in store.people.all(disabled=True)}
    exams: dict[str, list[str]] = {}
    for dog_id, exam_id in store.rounds.exams_since(start):
        if start <= store.exams.get(exam_id).begun_at < start + timedelta(days=1):
            exams.setdefault(dog_id, []).append(exam_id)
    dogs = []
    present = {dog.id for dog in here(store)}
    for dog in store.dogs.all():
        if dog.id not in present and dog.id not in exams:
            continue
        pen = placed.get(dog.id)
        answers = []
        for exam_id in exams.get(dog.id, ()):
            exam = store.exams.get(exam_id)
            who = people.get(exam.person_id or "", "nobody named")
            answers.append(f"{exam.begun_at:%H:%M} {who}:")
            for a in store.exams.answers(exam_id):
                value = a.value if a.value is not None else f"not observed ({a.reason})"
                once = ", said in one go" if a.method == IN_ONE_GO else ""
                answers.append(f"{a.item.replace('.', ' ').replace('_', ' ')}: {value}{once}")
        for dose in store.rounds.doses(dog.id):
            if dose.given_at.date() == now.date():
                name = store.kennel.medicines.get(dose.medicine_id).name
                by = people.get(dose.person_id or "", "nobody named")
                answers.append(
                    f"{dose.given_at:%H:%M} {name} {dose.amount}: {dose.outcome.value}, {by}"
                )
        dogs.append(
            {
                "name": dog.name,
                "pen": store.kennel.pen_words(store.kennel.pens.get(pen)) if pen else "no pen",
                "who": f"{age_in_words(dog, now.date()) or 'age unknown'}, {dog.sex.value}, "
                f"neutered {dog.neutered.value}",
                "chip": dog.chip or "none stored",
                "breed": f"{dog.breed} {dog.looks}".strip() or "none stored",
                "care": _care(store, dog),
                "contacts": [
                    f"{c.kind.value}: {c.name} {c.phone} {c.email} {c.address}".strip()
                    for c in store.kennel.contacts.all(dog_id=dog.id)
                ],
                "answers": answers,
            }
        )
    template = Environment(autoescape=True).from_string(_PAGE)
    return template.render(day=f"{now:%Y-%m-%d}", signed=signed, parts=handover.parts, dogs=dogs)


def _care(store: Store, dog: Dog) -> list[str]:
    lines = []
    for stay in store.kennel.stays.all(dog_id=dog.id):
        lines.append(f"here since {stay.arrived_on}")
        if stay.feeding:
            by = f", set by {stay.feeding_by}" if stay.feeding_by else ""
            lines.append(f"feeding: {stay.feeding}{by}")
        if stay.care_plan:
            lines.append(f"plan: {stay.care_plan}")
    for m in store.kennel.medicines.all(dog_id=dog.id):
        ends = f" to {m.ends}" if m.ends else ""
        lines.append(
            f"medicine: {m.name}, {m.amount}, every {m.interval_h:g} hours, from {m.begins}{ends}, "
            f"set by {m.set_by}"
        )
    lines += [
        f"flag: {f.kind.value.replace('_', ' ')}, {f.why}"
        for f in store.rounds.flags()
        if f.dog_id == dog.id
    ]
    if dog.has_bitten:
        lines.append("has bitten or snapped")
    lines += [f"bite: {b.happened_on} {b.whom} {b.what}".strip() for b in bites_of(store, dog.id)]
    return lines
