"""The table of states and moves, the diagram drawn from it, and which commands are open where."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.dialogue import diagram, vocabulary
from handsfree.dialogue.states import MOVES, Flow, State
from handsfree.hearing.grammar import load as grammar
from handsfree.hearing.verdict import MeaningKind

from .script import command, events_of, opened, run

NAMES = [name for name, _, _ in MOVES]
PAGE = Path(__file__).parents[2] / "docs" / "dialogue.md"


def _flow_in(state: State) -> Flow:
    """Return a flow that has been led to ``state`` by the table's own moves."""
    ways: dict[State, list[str]] = {State.READY: []}
    queue = [State.READY]
    while queue:
        here = queue.pop(0)
        for name, sources, dest in MOVES:
            if here in sources and dest not in ways:
                ways[dest] = [*ways[here], name]
                queue.append(dest)
    flow = Flow()
    for name in ways[state]:
        flow.move(name)
    assert flow.state is state
    return flow


@pytest.mark.parametrize("state", State)
def test_every_state_is_reached_and_illegal_moves_leave_it_unchanged(state: State) -> None:
    """A move that the table lacks raises, names both, and changes nothing; a legal one goes."""
    for name, sources, dest in MOVES:
        flow = _flow_in(state)
        assert flow.may(name) is (state in sources)
        if state in sources:
            flow.move(name)
            assert flow.state is dest
        else:
            with pytest.raises(RuntimeError, match=f"'{name}' while {state.value}"):
                flow.move(name)
            assert flow.state is state


def test_an_unknown_move_leaves_the_state_unchanged() -> None:
    """A misspelt move is no way out."""
    flow = Flow()
    with pytest.raises(RuntimeError, match="'jump' while ready"):
        flow.move("jump")
    assert flow.state is State.READY


def test_moves_have_one_name_each_and_only_the_end_is_final() -> None:
    """Nothing stands twice, and no state but the last is a dead end."""
    assert len(set(NAMES)) == len(NAMES)
    for state in State:
        left = [name for name, sources, _ in MOVES if state in sources]
        assert bool(left) is (state is not State.FINISHED)


def test_the_diagram_on_the_page_is_the_machines_own() -> None:
    """The page is stale: write it anew with ``python -m handsfree.dialogue.diagram``."""
    assert PAGE.read_text(encoding="utf-8") == diagram.page(PAGE.read_text(encoding="utf-8"))


def test_the_diagram_names_every_state_and_move() -> None:
    """Drawn from the table: what stands there stands in the picture."""
    drawn = diagram.drawing()
    for name, sources, dest in MOVES:
        for source in sources:
            assert f"{source.value} --> {dest.value}: " in drawn
        assert name in drawn


@pytest.mark.parametrize("state", State)
def test_open_commands_are_words_of_the_grammar(state: State) -> None:
    """No command is open that nobody can say; pause and stop are open wherever one waits."""
    known = {str(m.value) for _, m in grammar("commands").listed(MeaningKind.COMMAND)}
    opened_here = vocabulary.open_in(state)
    assert opened_here <= known
    if state not in (State.READY, State.FINISHED, State.CONCLUDING):
        assert "stop" in opened_here
        assert "pause" in opened_here or state is State.PAUSED


def test_every_command_of_the_grammar_has_its_place() -> None:
    """A command that can be heard is open somewhere and does something there."""
    known = {str(m.value) for _, m in grammar("commands").listed(MeaningKind.COMMAND)}
    used = frozenset[str]().union(*(vocabulary.open_in(state) for state in State))
    assert known - used == set()
    exam, _ = run(events_of([opened(), command("options")]))
    assert exam.state is State.OPTIONS
