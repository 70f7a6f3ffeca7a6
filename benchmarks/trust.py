"""Fits when to believe what was heard: ``python -m benchmarks.trust --manifest FILE [--write]``.

Plays recordings of voices that the second ear was not trained on through the true chain, keeps the
evidence of every utterance, fits the models of ``handsfree.hearing.joint`` and prints what each
figure adds, how well probabilities are calibrated, and what every threshold lets through.
"""

from __future__ import annotations

import argparse
import itertools
import json
import multiprocessing
import re
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks._chain import ASIDE_QUESTIONS, Room, barking, covering, listenings, play
from benchmarks._evidence import Kept, read, watched
from benchmarks._manifest import Entry, read_manifest, read_sound
from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.resample import resample, to_int16
from handsfree.errors import CallerError, HandsfreeError
from handsfree.hearing import engines, joint, trust
from handsfree.hearing.evidence import Evidence
from handsfree.hearing.grammar import compose
from handsfree.hearing.training.voices import NATURAL_HELD
from handsfree.hearing.trees import Trees
from handsfree.hearing.verdict import Meaning
from handsfree.protocol.loader import load

__all__ = ["as_trees", "grown", "main", "written"]

_ASIDE_PLACES = 5
_NUMBER_PLACES = ("weight.kg", "breaths.rate", "temperature.degrees", "lumps.known_length")
_KINDS = tuple(joint.FIGURES)
_NARROW_HZ = 8000
_TREES, _STEP, _FEWEST_ROWS = 400, 0.03, 15
"""How many trees, how much of each is taken, and how many utterances a leaf has at the least."""


@dataclass(frozen=True, kw_only=True)
class Heard:
    """One utterance: figures of what each model could propose, and whether that was said to us.

    Attributes:
        play: Number of the play that it belongs to.
        kind: Kind of the recording.
        voice: Its voice.
        figures: Figures by model; a model that proposes nothing, or is of other rooms, is missing.
        right: Whether each proposal is what was said.
    """

    play: int
    kind: str
    voice: str
    figures: dict[str, tuple[float, ...]]
    right: dict[str, bool]


@dataclass(frozen=True)
class _Plan:
    """What is played: chosen recordings, and longer numbers of everybody, in rooms by turns."""

    entries: Sequence[Entry]
    everybody: Sequence[Entry]
    rooms: Sequence[Room]
    seed: int
    numbers: int
    people: bool


def _bent(sound: Samples, rng: np.random.Generator) -> Samples:
    """Return a voice as other people have it: half with another throat, a quarter by telephone.

    Synthesised voices are more like those in training than people are. Without this the fit would
    trust the reading, which such voices please, more than it deserves.
    """
    rate = round(SAMPLE_RATE * float(np.exp(rng.uniform(-0.17, 0.17))) / 100) * 100
    heard = resample(sound, rate if rng.random() < 0.5 else SAMPLE_RATE, SAMPLE_RATE)
    if rng.random() < 0.25:
        heard = resample(resample(heard, SAMPLE_RATE, _NARROW_HZ), _NARROW_HZ, SAMPLE_RATE)
    return to_int16(heard)


def _collect_all(plan: _Plan, processes: int) -> list[Heard]:
    """Return what was heard of the whole plan, in its order."""
    if processes == 1:
        return _collect(plan, 0, 1)
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        parts = pool.starmap(_collect, [(plan, part, processes) for part in range(processes)])
    return sorted(itertools.chain.from_iterable(parts), key=lambda heard: heard.play)


def _collect(plan: _Plan, part: int, parts: int) -> list[Heard]:
    """Return what was heard of every ``parts``-th play, from the ``part``-th on."""
    hearing = engines.build()
    known = listenings(load())
    found: list[Heard] = []
    plays = itertools.chain(
        _plays(plan.entries, plan.rooms, known, plan.seed),
        _number_plays(plan.everybody, plan.rooms, known, plan.seed, plan.numbers),
    )
    with watched() as caught:
        for number, (entry, room, place, wanted) in enumerate(plays):
            if number % parts != part:
                continue
            caught.clear()
            rng = np.random.default_rng((plan.seed, number))
            sound = read_sound(entry.path)
            sound = _bent(sound, rng) if plan.people else sound
            play(hearing, known[place], sound, room, rng)
            found += _all_heard(number, entry.kind, entry.voice, caught, wanted)
    return found


def _of_kept(kept: Sequence[Kept]) -> list[Heard]:
    """Return what was heard of plays whose evidence was kept."""
    found: list[Heard] = []
    for number, one in enumerate(kept):
        found += _all_heard(number, one.kind, one.voice, one.evidence, one.wanted)
    return found


def _all_heard(
    number: int, kind: str, voice: str, evidence: Sequence[Evidence], wanted: Meaning | None
) -> list[Heard]:
    """Return what was heard of one play, of which something has to stand even so."""
    found = [_heard(number, kind, voice, one, wanted) for one in evidence]
    return found or [Heard(play=number, kind=kind, voice=voice, figures={}, right={})]


def _plays(
    entries: Sequence[Entry], rooms: Sequence[Room], known: dict[str, Any], seed: int
) -> Iterator[tuple[Entry, Room, str, Meaning | None]]:
    for number, entry in enumerate(entries):
        rng = np.random.default_rng((seed, 7, number))
        room = rooms[number % len(rooms)]
        if entry.kind == "answer":
            for place in covering(entry.text, entry.question, known, rng)[:2]:
                yield entry, room, place, compose(known[place]).meaning(entry.text)
        else:
            others = [*ASIDE_QUESTIONS, "menu", "alarm", "goto", "telling"]
            for index in rng.permutation(len(others))[:_ASIDE_PLACES]:
                yield entry, room, others[index], None


def _number_plays(
    entries: Sequence[Entry], rooms: Sequence[Room], known: dict[str, Any], seed: int, limit: int
) -> Iterator[tuple[Entry, Room, str, Meaning | None]]:
    """Yield numbers of several words where one is asked for, and asides in the same places.

    The ear does not know them, so voices that trained it may judge here.
    """
    rng = np.random.default_rng((seed, 11))
    open_at = {place: compose(known[place]) for place in _NUMBER_PLACES}
    longer = [
        (entry, place)
        for entry in entries
        if entry.kind == "answer" and len(entry.text.split()) > 1
        for place, grammar in open_at.items()
        if grammar.meaning(entry.text) is not None and not grammar.is_listed(entry.text)
    ]
    asides = [(e, place) for e in entries if e.kind == "aside" for place in _NUMBER_PLACES]
    for pairs in (longer, asides):
        for number, index in enumerate(rng.permutation(len(pairs))[:limit]):
            entry, place = pairs[index]
            wanted = open_at[place].meaning(entry.text) if entry.kind == "answer" else None
            yield entry, rooms[number % len(rooms)], place, wanted


def _heard(number: int, kind: str, voice: str, evidence: Evidence, wanted: Meaning | None) -> Heard:
    figures: dict[str, tuple[float, ...]] = {}
    right: dict[str, bool] = {}
    heard = joint.lead(evidence)
    open_ = joint.open_form(evidence)
    if not evidence.too_long and evidence.speech_s >= trust.SHORTEST_S:
        if heard:
            short = joint.short_model(evidence)
            figures[short] = joint.short_figures(evidence, heard)
            right[short] = wanted is not None and heard[0].meaning == wanted
        if open_ is not None:
            figures["open"] = joint.open_figures(evidence, open_, heard)
            right["open"] = wanted is not None and open_.meaning == wanted
    return Heard(play=number, kind=kind, voice=voice, figures=figures, right=right)


def _fit(rows: NDArray[np.float64], right: NDArray[np.bool_]) -> joint.Model:
    """Return a logistic model by Newton's method, with a ridge on standardised figures."""
    middle, spread = rows.mean(axis=0), rows.std(axis=0) + 1e-9
    x = np.column_stack([(rows - middle) / spread, np.ones(len(rows))])
    ridge = np.diag([3.0] * rows.shape[1] + [1e-6])
    w = np.zeros(x.shape[1])
    for _ in range(30):
        p = 1.0 / (1.0 + np.exp(-np.clip(x @ w, -30.0, 30.0)))
        slope = x.T @ (p - right) + ridge @ w
        bend = (x * (p * (1.0 - p))[:, None]).T @ x + ridge
        step = np.linalg.solve(bend, slope)
        w -= step
        if float(np.abs(step).max()) < 1e-7:
            break
    weights = w[:-1] / spread
    return joint.Model(
        figures=(),
        weights=tuple(map(float, weights)),
        bias=float(w[-1] - np.sum(weights * middle)),
    )


def grown(
    rows: NDArray[np.float64], right: NDArray[np.bool_], *, trees: int = _TREES, seed: int = 1
) -> Trees:
    """Return trees of two levels, each grown on half of the rows by lot.

    Args:
        rows: Figures, shape (n, figures).
        right: Whether what was proposed was said, shape (n,).
        trees: How many.
        seed: Of the lots.
    """
    from sklearn.ensemble import GradientBoostingClassifier

    return as_trees(
        GradientBoostingClassifier(
            max_depth=2,
            n_estimators=trees,
            learning_rate=_STEP,
            subsample=0.5,
            min_samples_leaf=_FEWEST_ROWS,
            random_state=seed,
        ).fit(rows, right)
    )


def as_trees(made: Any) -> Trees:
    """Return the trees of a fitted ``GradientBoostingClassifier`` of depth two."""
    asked, bounds, values = [], [], []
    for (tree,) in made.estimators_:
        nodes = tree.tree_
        top = _Node(nodes, 0)
        asked.append([top.asked, top.within.asked, top.above.asked])
        bounds.append([top.bound, top.within.bound, top.above.bound])
        leaves = [leaf for side in (top.within, top.above) for leaf in (side.within, side.above)]
        values.append([made.learning_rate * leaf.value for leaf in leaves])
    return Trees(
        figures=(),
        asked=np.array(asked, np.intp),
        bounds=np.array(bounds),
        values=np.array(values),
        bias=joint.logit(float(made.init_.class_prior_[1])),
    )


class _Node:
    """One question of a grown tree; where no question follows, one that tells nothing more."""

    def __init__(self, nodes: Any, at: int) -> None:
        self._nodes, self._at = nodes, at
        self._ends = nodes.children_left[at] < 0
        self.asked = 0 if self._ends else int(nodes.feature[at])
        self.bound = 0.0 if self._ends else float(nodes.threshold[at])
        self.value = float(nodes.value[at, 0, 0])

    @property
    def within(self) -> _Node:
        return self if self._ends else _Node(self._nodes, int(self._nodes.children_left[self._at]))

    @property
    def above(self) -> _Node:
        return self if self._ends else _Node(self._nodes, int(self._nodes.children_right[self._at]))


def _model(kind: str, rows: NDArray[np.float64], right: NDArray[np.bool_]) -> joint.Model | Trees:
    """Return a model of the form that this one has."""
    return grown(rows, right) if kind == joint.SHORT_IN_NOISE else _fit(rows, right)


def _held_out(
    heard: Sequence[Heard], kind: str, left_out: frozenset[int] = frozenset()
) -> dict[int, float]:
    """Return each proposal's probability by a model that has not heard its voice."""
    at = [i for i, h in enumerate(heard) if kind in h.figures]
    rows = np.array([heard[i].figures[kind] for i in at])
    for column in left_out:
        rows[:, column] = 0.0
    right = np.array([heard[i].right[kind] for i in at])
    voices = [heard[i].voice for i in at]
    names = sorted(set(voices))
    found: dict[int, float] = {}
    for part in range(3):
        held = {name for n, name in enumerate(names) if n % 3 == part}
        test = np.array([voice in held for voice in voices])
        if not test.any() or len(set(right[~test].tolist())) < 2:
            continue
        model = _model(kind, rows[~test], right[~test])
        for i, row in zip(np.flatnonzero(test), rows[test], strict=True):
            found[at[i]] = model.probability(row)
    return found


def _told(
    heard: Sequence[Heard], chances: dict[str, dict[int, float]], accept: float
) -> dict[str, float]:
    """Return the shares of plays that an acceptance threshold gives."""
    plays: dict[int, list[tuple[float, bool]]] = {}
    kinds: dict[int, str] = {}
    for i, h in enumerate(heard):
        kinds[h.play] = h.kind
        best = max(
            ((chances[k][i], h.right[k]) for k in _KINDS if i in chances[k]), default=(0.0, False)
        )
        plays.setdefault(h.play, []).append(best)
    count = {"answer": 0, "aside": 0, "noise": 0}
    right = wrong = 0
    let_in = {"aside": 0, "noise": 0}
    for number, utterances in plays.items():
        kind = kinds[number]
        count[kind] += 1
        first = next((ok for chance, ok in utterances if chance >= accept), None)
        if kind == "answer":
            right += first is True
            wrong += first is False
        else:
            let_in[kind] += first is not None
    return {
        "right": 100.0 * right / max(count["answer"], 1),
        "wrong": 100.0 * wrong / max(count["answer"], 1),
        "asides": 100.0 * let_in["aside"] / max(count["aside"], 1),
        "noises": 100.0 * let_in["noise"] / max(count["noise"], 1),
    }


def _at_aside_rate(
    heard: Sequence[Heard], chances: dict[str, dict[int, float]], rate: float
) -> dict[str, float]:
    """Return the shares at the lowest threshold that lets in no more than ``rate`` % of asides."""
    for step in range(20, 100):
        told = _told(heard, chances, step / 100.0)
        if told["asides"] <= rate:
            return {**told, "at": step / 100.0}
    return {**_told(heard, chances, 0.999), "at": 0.999}


def _tables(heard: Sequence[Heard]) -> None:
    chances = {kind: _held_out(heard, kind) for kind in _KINDS}
    print("Accepted from\tright\twrong\tasides\tnoises   (percent; voices held out in threes)")
    for step in (0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95):
        told = _told(heard, chances, step)
        print(
            f"{step:.2f}\t"
            + "\t".join(f"{told[k]:.2f}" for k in ("right", "wrong", "asides", "noises"))
        )
    print("\nReliability\tproposals\tshare right")
    pairs = [(p, heard[i].right[k]) for k in _KINDS for i, p in chances[k].items()]
    edges = (0.0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 1.001)
    for low, high in itertools.pairwise(edges):
        inside = [ok for p, ok in pairs if low <= p < high]
        if inside:
            print(
                f"{low:.2f} to {min(high, 1.0):.2f}\t{len(inside)}\t{100 * np.mean(inside):.1f} %"
            )
    print("\nLeft out\tright when asides are let in at most 0.5 %\twrong   (percent)")
    groups = {
        "nothing": (),
        "the ear's shares": (
            "share",
            "own_share",
            "agree_share",
            "other",
            "ear_best",
            "ear_command",
        ),
        "the reading of phones": ("spelt", "fit", "gap"),
        "agreement with the recogniser": ("agree", "agree_share", "rec_silent", "outside", "said"),
        "lengths": ("length", "too_short", "too_long"),
        "speech outside the words": ("outside",),
        "answer or command, words": ("command", "words", "goes_on"),
        "noise": ("noise",),
    }
    for title, names in groups.items():
        without = {
            kind: _held_out(
                heard, kind, frozenset(all_.index(name) for name in names if name in all_)
            )
            for kind, all_ in ((kind, joint.FIGURES[kind]) for kind in _KINDS)
        }
        told = _at_aside_rate(heard, without, 0.5)
        print(f"{title}\t{told['right']:.1f}\t{told['wrong']:.2f}")


def written(model: joint.Model | Trees) -> dict[str, Any]:
    """Return what stands of a model in ``joint.json``."""
    if isinstance(model, joint.Model):
        weights = [round(w, 4) for w in model.weights]
        return {"weights": weights, "bias": round(model.bias, 4)}
    return {
        "asked": model.asked.tolist(),
        "bounds": model.bounds.round(5).tolist(),
        "values": model.values.round(5).tolist(),
        "bias": round(model.bias, 4),
    }


def _write(heard: Sequence[Heard], which: Sequence[str], about: str) -> None:
    """Write the models of these names anew; the others stay as they were."""
    path = Path(joint.__file__).with_name("joint.json")
    told: dict[str, Any] = json.loads(path.read_text("utf-8"))
    for kind in which or _KINDS:
        used = [h for h in heard if kind in h.figures]
        if len({h.right[kind] for h in used}) < 2:
            msg = f"nothing right, or nothing wrong, was heard for the model {kind!r}."
            raise CallerError(msg)
        rows = np.array([h.figures[kind] for h in used])
        right = np.array([h.right[kind] for h in used])
        told[kind] = {
            "figures": list(joint.FIGURES[kind]),
            **written(_model(kind, rows, right)),
            "utterances": len(used),
            "about": about,
        }
    # One line for each list: a tree is read as one.
    lines = re.sub(
        r"\[[^\[\]]*\]", lambda found: " ".join(found[0].split()), json.dumps(told, indent=1)
    )
    path.write_text(lines + "\n", encoding="utf-8")
    print(f"\nWritten: {path.name}, from {about}")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the fit; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.trust", description=__doc__)
    parser.add_argument("--manifest", type=Path, action="append", default=[])
    parser.add_argument(
        "--kept",
        type=Path,
        action="append",
        default=[],
        help="evidence that benchmarks.replay kept, in place of playing",
    )
    parser.add_argument("--voices", nargs="*", default=list(NATURAL_HELD), help="used of them")
    parser.add_argument("--noise", type=Path, action="append", default=[])
    parser.add_argument("--barks", action="store_true", help="synthetic barking as a noise, too")
    parser.add_argument("--snr", type=float, nargs="*", default=[10.0], help="of each noise, dB")
    parser.add_argument("--distance", type=float, nargs="*", default=[], help="metres, as a room")
    parser.add_argument("--people", action="store_true", help="bend voices, as people's differ")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--limit", type=int, default=500, help="recordings a kind")
    parser.add_argument("--numbers", type=int, default=250, help="of longer numbers, and asides")
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument(
        "--write",
        nargs="*",
        choices=_KINDS,
        metavar="MODEL",
        help=f"write the weights that are shipped: all, or of {', '.join(map(repr, _KINDS))}",
    )
    args = parser.parse_args(argv)
    try:
        if args.kept:
            kept = [one for path in args.kept for one in read(path)]
            return _report(_of_kept(kept), len(kept), sorted({one.voice for one in kept}), args)
        entries: list[Entry] = []
        for manifest in args.manifest:
            entries += read_manifest(manifest)[0]
        rng = np.random.default_rng(args.seed)
        chosen: list[Entry] = []
        for kind in ("answer", "aside", "noise"):
            fit = [e for e in entries if e.kind == kind and (not e.voice or e.voice in args.voices)]
            chosen += [fit[i] for i in rng.permutation(len(fit))[: args.limit]]
        if not any(e.kind == "answer" for e in chosen):
            msg = f"no answers of the voices {', '.join(args.voices)} are listed."
            raise CallerError(msg)
        noises = [read_sound(path) for path in args.noise]
        if args.barks:
            noises.append(barking(args.seed))
        noisy = [Room(noise=noise, snr_db=snr) for snr in args.snr for noise in noises]
        noisy += [Room(distance_m=metres) for metres in args.distance]
        quiet = [Room()] * max(2, len(noisy) - 1)  # a little less than half of the plays
        plan = _Plan(chosen, entries, [*quiet, *noisy], args.seed, args.numbers, args.people)
        heard = _collect_all(plan, args.processes)
    except HandsfreeError as wrong:
        print(f"benchmarks.trust: {wrong}", file=sys.stderr)
        return wrong.exit_code
    voices = sorted({e.voice for e in chosen if e.voice})
    return _report(heard, len(chosen), voices, args)


def _report(
    heard: Sequence[Heard], recordings: int, voices: Sequence[str], args: argparse.Namespace
) -> int:
    about = f"{recordings} recordings or plays of {len(voices)} voices, seed {args.seed}"
    print(f"{len(heard)} utterances of {about}; voices: {', '.join(voices)}")
    _tables(heard)
    if args.write is not None:
        _write(heard, args.write, about)
    return 0


if __name__ == "__main__":
    sys.exit(main())
