"""The simulated people of a round: they know each dog, take over from one another, and look.

Between two dogs they are told what is asked by its topic; at a dog they answer as the examiner of
one dog does.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from handsfree.audio.device import Samples
from handsfree.dialogue.actions import Action, Ask, Speak
from handsfree.dialogue.events import Event
from handsfree.kennel.looks import ITEM
from handsfree.kennel.question import Topic
from handsfree.protocol.model import Protocol
from handsfree.rehearsal.examiner import Examiner
from handsfree.rehearsal.kennel_scenario import Handler, KennelScenario, RehearsedDog
from handsfree.rehearsal.scenario import Behaviour, Scenario

__all__ = ["Handlers"]

_TOPICS = frozenset(value for name, value in vars(Topic).items() if not name.startswith("_"))
_SAID = {
    Topic.INSTEAD: "nobody", Topic.LOOKED: "yes", Topic.STOPPING: "no", Topic.GO_ON: "yes",
    Topic.DOSE: "yes", Topic.TOLD: "the vet", Topic.WHEN: "just now", Topic.ACKNOWLEDGED: "yes",
}  # fmt: skip
_NAMING = "another dog: "
"""How a scenario writes that another dog is named; its name follows."""


class Handlers(Examiner):
    """Speaks for the people of a round.

    Args:
        scenario: The round.
        protocol: To know what can be answered.
        speak: Text and voice to samples.
        silent: Whether the assistant is silent at this moment.
        dogs: The dogs by their keys.
        people: The people by their keys.
    """

    again_s = 4.0
    """In a kennel nobody waits long to say it again."""

    def __init__(
        self,
        scenario: KennelScenario,
        protocol: Protocol,
        *,
        speak: Callable[[str, str], Samples],
        silent: Callable[[], bool],
        dogs: Mapping[str, RehearsedDog],
        people: Mapping[str, Handler],
    ) -> None:
        self._round = scenario
        self._dogs = dogs
        self._people = people
        self._leads = scenario.people[0]
        super().__init__(self._one(scenario.dogs[0]), protocol, speak=speak, silent=silent)
        self._dog = scenario.dogs[0]
        self._left_to_say = {dog.name: list(dog.first) for dog in scenario.dogs}
        self._asides = {
            dog.name: [Behaviour(at=item, do=(text,)) for item, text in dog.says.items()]
            for dog in scenario.dogs
        }
        self._wanted = ""
        self._done: set[str] = set()
        self._begun = False
        self._going_back = False
        self._said_stop = False
        self.places: list[tuple[str, int]] = []
        """Each time that a dog was asked for: its name, and the sample."""

    def _one(self, dog: RehearsedDog) -> Scenario:
        return Scenario(
            id=self._round.id, title=self._round.title, routine="kennel", dog={}, person={},
            known={}, truth=dog.truth, behaviours=(), voices=(self._leads.speaks,),
            seed=self._round.seed,
        )  # fmt: skip

    def hears(self, event: Event, actions: tuple[Action, ...]) -> None:
        """Take the meaning of what the assistant does, and note when each dog is asked for."""
        for action in actions:
            if isinstance(action, Ask) and action.region == Topic.PLACE:
                name = self._dogs[str(action.read_back)].name
                if not self.places or self.places[-1][0] != name:
                    self.places.append((name, event.sample))
            elif isinstance(action, Speak) and any("is parked" in s for s in action.sentences):
                self._begun = False  # what was heard wrongly, or wanted: it comes again
        super().hears(event, actions)

    # what to say

    def _answer(self, ask: Ask) -> None:
        if ask.stage == "paused" and self._said_stop:
            self._last_ask = ask
            self._say("stop")  # it was heard in doubt, and meant
            return
        if ask.region not in _TOPICS:
            self._begun = self._begun or ask.item is not None
            super()._answer(ask)
            return
        self._last_ask = ask
        if ask.region == Topic.PLACE:
            self._at_place(self._dogs[str(ask.read_back)])
        elif ask.region == Topic.WHICH:
            self._say(self._wanted or "nobody")
        elif ask.region == Topic.CONFIRM:
            self._say("yes" if self._is_meant(str(ask.read_back)) else "no")
        elif ask.region == Topic.PERSON:
            self._say(self._this_is())
        else:
            self._say("yes" if self._stopping(ask) else _SAID[ask.region])

    def _at_place(self, dog: RehearsedDog) -> None:
        if self._begun:
            self._done.add(self._dog.name)
            self._begun = False
        if self._wrong_echo:
            self._wrong_echo = False
            self.corrections += 1
            self._going_back = True
            self._say("go back")
            return
        left = self._left_to_say[dog.name]
        if dog.takes_over and dog.takes_over != self._leads.name and dog.name not in self._done:
            self._leads = self._round.handler(dog.takes_over)
            self.voice = self._leads.speaks
            self._say(self._this_is())
        elif dog.name in self._done and not self._going_back:
            self._say("no")
        elif left and left[0].startswith(_NAMING):
            self._wanted = left.pop(0).removeprefix(_NAMING)
            self._say("another dog")
        elif left:
            self._said_stop = left[0] == "stop"
            self._say(left.pop(0))
        elif dog.absent:
            self._say("no")
        else:
            self._going_back = False
            self._dog = dog
            self._scenario = self._one(dog)
            self._behaviours = self._asides[dog.name]
            self._say("yes")

    def _stopping(self, ask: Ask) -> bool:
        """Whether the round is to stop, and the person said so."""
        return ask.region == Topic.STOPPING and self._said_stop

    def _this_is(self) -> str:
        return f"this is {self._leads.name.split()[0].lower()}"

    def _is_meant(self, key: str) -> bool:
        if key in self._people:
            return self._people[key].name == self._leads.name
        if key in self._dogs:
            return self._dogs[key].name.lower() == self._wanted
        return key in (_SAID[Topic.TOLD].removeprefix("the "), self._wanted)

    def _answer_question(self, ask: Ask) -> None:
        super()._answer_question(ask)
        if ask.item == ITEM and self._plans and not self._dog.hasty:
            self._plans[-1].after_s = self._random.uniform(*self._round.look_s)
