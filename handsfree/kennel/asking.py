"""Asking between two dogs: runs one question over sound or keys and returns what was answered.

Which dog and which person is meant is settled here, asked on where several could be meant. Nothing
is stored.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from handsfree.errors import CallerError
from handsfree.interview.field import Field, FieldKind
from handsfree.interview.form import Form
from handsfree.kennel import wordings
from handsfree.kennel.names import DOGS, Names
from handsfree.kennel.order import Stop
from handsfree.kennel.question import STOP, Asked, Question, Saying
from handsfree.kennel.which import which
from handsfree.records.model import Person
from handsfree.records.store import Store
from handsfree.session.runner import Observer, Output
from handsfree.session.talks import Runs, run_unstored

__all__ = ["Asker"]

_NAME = Field(
    id="name", kind=FieldKind.NAME, prompt="Spell the name in code words, then say finished.",
    again="Letter by letter: alfa, bravo, charlie. Then say finished.",
    help="Say one code word for each letter, as in Kilo, India, Mike. Say finished at the end.",
    typed="Type the name.", grammar="spelling", label="The name",
)  # fmt: skip
_CHIP = Field(
    id="chip", kind=FieldKind.DIGITS,
    prompt="Say the chip number digit by digit, or its last five. Then say finished.",
    again="Digit by digit, at least the last five. Then say finished.",
    help="Say one digit after the other. The last five are enough. Say finished at the end.",
    typed="Type the chip number, or its last five digits.", grammar="digits", label="Chip",
    fewest=5,
)  # fmt: skip
_TEXT = "text:"
TRIES = 3
"""How often which dog is asked for before it is left."""


class Asker:
    """Asks.

    Args:
        store: The records, read alone.
        driver: Runs talks.
        output: Who speaks and listens.
        names: What names mean; replaced when people change.
        stops: The round's dogs.
        by_keys: There is no sound.
        observers: Told each event with its actions.
    """

    def __init__(
        self,
        store: Store,
        driver: Runs,
        output: Output,
        *,
        names: Names,
        stops: Sequence[Stop],
        by_keys: bool,
        observers: Sequence[Observer] = (),
    ) -> None:
        self._store = store
        self._driver = driver
        self._output = output
        self._stops = {stop.dog_id: stop for stop in stops}
        self._observers = tuple(observers)
        self._before: list[str] = []
        self.names = names
        self.by_keys = by_keys
        self.gone = False
        """Nobody answers any more, or the program must end."""
        self.is_sure = False
        """The last answer came by keys, or is a stop out of a pause."""

    def say(self, *sentences: str) -> None:
        """Say this before what is asked next."""
        self._before += [s for s in sentences if s]

    def said_before(self) -> tuple[str, ...]:
        """Return, once, what waits to be said."""
        before, self._before = tuple(self._before), []
        return before

    def flush(self) -> None:
        """Say now what waits to be said."""
        before = self.said_before()
        if before and not self.gone:
            self._run(Saying(before))

    def ask(self, asked: Asked) -> str | None:
        """Return the token answered; ``stop`` if the person said so, None if nobody answers."""
        if self.gone:
            return None
        talk = Question(asked, before=self.said_before())
        if self._run(talk) != "complete":
            self.gone = True
            return None
        self.is_sure = talk.is_sure
        return talk.value

    def yes(self, asked: Asked) -> bool:
        """Return whether it was answered with yes."""
        return self.ask(asked) == "yes"

    def _run(self, talk: Question | Saying | Form) -> str:
        return run_unstored(self._driver, self._output, talk, observers=self._observers)

    def _form(self, field: Field) -> str:
        form = Form((field,), by_keys=self.by_keys, intro=self.said_before())
        if self._run(form) != "complete":
            return ""
        return str(form.answers.get(field.id) or "")

    # which dog

    def dog(self, asked: Asked, *, confirm: bool) -> str | None:
        """Return the key of the dog that is meant, ``stop``, or None for nobody.

        Where several could be meant each is asked for; with ``confirm`` a single one is as well.
        """
        for _ in range(TRIES):
            found = self._dog_once(asked, confirm=confirm)
            if found is not None:
                return None if found == wordings.NOBODY else found
        return None

    def _dog_once(self, asked: Asked, *, confirm: bool) -> str | None:
        """Return the dog's key, ``stop``, ``nobody``, or None where no dog of the round is it."""
        token = self.ask(asked)
        if token in (None, STOP, wordings.NOBODY):
            return token or wordings.NOBODY
        assert token is not None
        if token == wordings.CHIP:
            meant = self._by_text(self._form(_CHIP))
        elif token == wordings.SPELL:
            meant = self._by_text(self._form(_NAME))
        elif token.startswith(_TEXT):
            meant = self._by_text(token.removeprefix(_TEXT))
        else:
            meant = self.names.meant(token)
        if len(meant) == 1 and not confirm:
            return meant[0]
        return self._one_of(meant, self._dog_words, none="No dog of this round is called that.")

    def _by_text(self, text: str) -> tuple[str, ...]:
        """Return the dogs of the round that a typed or spelled name, pen or chip could mean."""
        if not text:
            return ()
        token = self.names.typed(DOGS, text)
        if token is not None:
            return self.names.meant(token)
        dogs = [dog for dog in self._store.dogs.all() if dog.id in self._stops]
        return tuple(dog.id for dog in which(text, dogs).dogs)

    def _dog_words(self, dog_id: str) -> str:
        stop = self._stops[dog_id]
        return f"{stop.name}, of {stop.pen}"

    def _one_of(self, keys: Sequence[str], words: Callable[[str], str], *, none: str) -> str | None:
        """Return the one that is confirmed, asked for one by one; None for none of them."""
        if not keys:
            self.say(none)
            return None
        for key in keys:
            answer = self.ask(wordings.is_it(f"{words(key)}. Right?", key))
            if answer == "yes":
                return key
            if answer in (None, STOP):
                return answer
        return None

    # which person

    def person(self) -> Person | None:
        """Return who leads from now on, asked for; None for nobody."""
        token = self.ask(wordings.which_person(self.names))
        if token in (None, STOP, wordings.NOBODY):
            return None
        assert token is not None
        return self.person_of(self._form(_NAME) if token == wordings.SPELL else token)

    def person_of(self, token: str) -> Person | None:
        """Return the person whom a heard token or a typed name means, confirmed; or None."""
        people = self._store.people
        keys = self.names.meant(token)
        if not keys:
            text = token.removeprefix(_TEXT)
            for lead in ("sign in ", "this is "):
                text = text[len(lead) :] if text.lower().startswith(lead) else text
            try:
                return people.find(text)
            except CallerError as error:
                self.say(str(error))
                return None
        key = self._one_of(keys, lambda one: people.get(one).name, none="")
        return None if key in (None, STOP) else people.get(str(key))

    def spelled(self) -> str:
        """Return a name that is spelled, or typed; empty if it was left."""
        return "" if self.gone else self._form(_NAME)
