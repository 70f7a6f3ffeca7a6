"""The exam's states and every move between them, as one table.

Rules of this file: all moves stand in MOVES; a move that is not there is a mistake of ours and
raises. The states say what the machine waits for, nothing of what is asked. ``transitions`` keeps
the state; it stays hidden behind Flow. ``diagram`` draws the same table for the docs.

How an exam goes: it opens and asks (ASKING). An unusual answer is read back (CONFIRMING). Refill
and counts have states of their own, since sound and silence mean something else there. OPTIONS and
GOTO are menus. PAUSED hears only resume and stop. ALARM has said that something cannot wait and
asks nothing. CONCLUDING waits for judging, TELLING speaks the result, FINISHED takes nothing more.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum

from transitions import Machine, MachineError

__all__ = ["MOVES", "Flow", "State"]


class State(Enum):
    """What the machine waits for."""

    READY = "ready"
    HELPER = "helper"
    ASKING = "asking"
    CONFIRMING = "confirming"
    PRESSING = "pressing"
    HOLDING = "holding"
    TIMING = "timing"
    RESTING = "resting"
    COUNT_READY = "count_ready"
    COUNTING = "counting"
    OPTIONS = "options"
    GOTO = "goto"
    PAUSED = "paused"
    ALARM = "alarm"
    CONCLUDING = "concluding"
    TELLING = "telling"
    FINISHED = "finished"


_REFILL = (State.PRESSING, State.HOLDING, State.TIMING, State.RESTING)
_COUNT = (State.COUNT_READY, State.COUNTING)
_MENUS = (State.OPTIONS, State.GOTO)
_AT_A_QUESTION = (State.ASKING, State.CONFIRMING, *_REFILL, *_COUNT)
_ASIDE = (*_MENUS, State.PAUSED, State.ALARM)
_OPEN = (State.HELPER, *_AT_A_QUESTION, *_ASIDE)
_ENDING = (State.CONCLUDING, State.TELLING)
_TO_A_QUESTION = (State.READY, *_OPEN, *_ENDING)

MOVES: tuple[tuple[str, tuple[State, ...], State], ...] = (
    ("ask_helper", (State.READY, State.HELPER, State.PAUSED, State.ALARM), State.HELPER),
    ("ask", _TO_A_QUESTION, State.ASKING),
    ("read_back", (*_AT_A_QUESTION, *_ASIDE), State.CONFIRMING),
    ("press", _TO_A_QUESTION, State.PRESSING),
    ("hold", (State.PRESSING,), State.HOLDING),
    ("time", (State.HOLDING,), State.TIMING),
    ("rest", (State.PRESSING, State.HOLDING, State.TIMING), State.RESTING),
    ("get_ready", _TO_A_QUESTION, State.COUNT_READY),
    ("count", (State.COUNT_READY,), State.COUNTING),
    ("options", (*_AT_A_QUESTION, State.OPTIONS), State.OPTIONS),
    ("goto", (*_AT_A_QUESTION, *_MENUS), State.GOTO),
    ("pause", (*_OPEN, State.TELLING), State.PAUSED),
    ("alarm", _OPEN, State.ALARM),
    ("conclude", _TO_A_QUESTION, State.CONCLUDING),
    ("tell", (State.CONCLUDING, State.TELLING, State.PAUSED), State.TELLING),
    ("finish", tuple(s for s in State if s is not State.FINISHED), State.FINISHED),
)
"""(move, from, to): the whole machine."""


class Flow:
    """The current state; moves only as MOVES allows."""

    def __init__(self) -> None:
        self._machine = Machine(
            model=None,
            states=State,
            initial=State.READY,
            transitions=[
                {"trigger": move, "source": list(sources), "dest": dest}
                for move, sources, dest in MOVES
            ],
            auto_transitions=False,
        )
        self._model = _Model()
        self._machine.add_model(self._model)

    @property
    def state(self) -> State:
        """The state now."""
        state = self._model.state
        assert isinstance(state, State)
        return state

    def move(self, name: str) -> None:
        """Make the move ``name``.

        Raises:
            RuntimeError: The table has no such move from here; the state is unchanged.
        """
        before = self.state
        try:
            self._model.trigger(name)
        except (MachineError, AttributeError) as error:
            msg = f"the exam cannot {name!r} while {before.value}"
            raise RuntimeError(msg) from error

    def may(self, name: str) -> bool:
        """Whether the table has the move ``name`` from here."""
        return any(move == name and self.state in sources for move, sources, _ in MOVES)


class _Model:
    """What ``transitions`` hangs its state and its ``trigger`` on."""

    state: State
    trigger: Callable[[str], bool]
