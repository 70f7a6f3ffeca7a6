"""Makes the ear for noise again, from packages of the public indexes alone.

``python -m handsfree.hearing.training.noise_ear --work DIR`` speaks as for the phone network, whose
clips in DIR serve here too, trains the embedding network on together with heads over it while every
batch is made rough afresh, calibrates the head on voices held back, prints how it does, and writes
both files that are shipped. It needs the extra ``train``, hours of processors for the clips, and a
graphics processor for as many passes as the shipped one had.
"""

from __future__ import annotations

import argparse
import platform
import struct
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import DataError, HandsfreeError
from handsfree.hearing import ear
from handsfree.hearing.ear.head import Head
from handsfree.hearing.grammar import grammar_dir
from handsfree.hearing.train import print_judgement, voice_tables
from handsfree.hearing.training.calibrate import calibrate, draw_trials
from handsfree.hearing.training.ear_batches import with_pieces
from handsfree.hearing.training.ear_fit import (
    EarRecipe,
    Fitted,
    MemberRecipe,
    examples,
    fit_ear,
)
from handsfree.hearing.training.fit import Member, Standard, save_head
from handsfree.hearing.training.phone_harm import NOISY, USUAL, fill_bank
from handsfree.hearing.training.phone_material import (
    ClipWorkshop,
    PhoneAmounts,
    make_material,
    print_material,
)
from handsfree.hearing.training.phone_model import load_torch
from handsfree.hearing.training.recorded_barks import read_dogs
from handsfree.hearing.training.texts import open_sets, short_phrases
from handsfree.hearing.training.torch_embedding import embedding_network, tuned_file

__all__ = ["AMOUNTS", "fitted_before", "main", "train"]

AMOUNTS = PhoneAmounts(
    natural=32,
    numbers=3000,
    more_talk=8000,
    words=3000,
    asides=8,
    digits=40,
    sentences=5,
    machine=8,
    machine_numbers=1000,
    machine_talk=2000,
    machine_words=500,
    machine_digits=30,
    noises=5600,
    others=16000,
    rooms=2000,
)
"""Fewer numbers and words than the phone network has: here they are only what is not meant."""
_PIECES = 2
"""Stretches cut out of each longer clip."""
_TRIALS = 6000


def fitted_before(torch: Any, folder: Path) -> tuple[Fitted, MemberRecipe]:
    """Return what was written into a folder, to go on from, and the form of its only member.

    Args:
        torch: The module.
        folder: With noise_head.npz and noise_network.tflite.

    Raises:
        HandsfreeError: A file is missing or broken, or the package tflite is not installed.
    """
    head = Head(folder / "noise_head.npz")
    try:
        network = embedding_network(torch, folder / "noise_network.tflite")
    except (OSError, ValueError, struct.error) as wrong:
        msg = f"The network to begin with cannot be read ({wrong})."
        raise DataError(msg) from wrong
    hidden = tuple(len(bias) for _, bias in head.members[0][:-1])
    fitted = Fitted(
        mean=head.mean,
        scale=head.scale,
        members=[list(head.members[0])],
        network={name: one.numpy() for name, one in network.state_dict().items()},
    )
    return fitted, MemberRecipe(hidden=hidden, drop=EarRecipe().members[-1].drop)


def _head(
    fitted: Fitted,
    features: NDArray[np.float32],
) -> tuple[Standard, Member, NDArray[np.float32]]:
    """Return the member that is kept, the last one, and its outputs."""
    standard = Standard(mean=fitted.mean, scale=fitted.scale)
    member = Member(layers=list(fitted.members[-1]))
    return standard, member, np.asarray(member(standard(features)), np.float32)


def train(
    *,
    work: Path,
    out: Path,
    seed: int,
    tables: Path | None = None,
    amounts: PhoneAmounts = AMOUNTS,
    recipe: EarRecipe,
    kept_only: bool = False,
    processes: int = 1,
    speak_on: str | None = None,
    barks: Path | None = None,
    begin: Path | None = None,
) -> None:
    """Make, train, calibrate, print and write.

    Args:
        work: Folder of clips.
        out: Folder of the two files.
        seed: Of all that is drawn by lot.
        tables: Folder of the natural voices' tables; looked for or fetched where none is given.
        amounts: How much is made.
        recipe: How it is trained.
        kept_only: Leave out what needs new speech.
        processes: How many make clips at once.
        speak_on: A graphics processor that speaks with the natural voices, as PyTorch names it.
        barks: Folder of recordings of dogs, to bark among the other sounds.
        begin: Folder of both files, to go on from.

    Raises:
        HandsfreeError: A package is missing, or a grammar can't be read.
    """
    torch = load_torch()  # before anything is fetched or made
    before = None
    if begin is not None:
        before, form = fitted_before(torch, begin)
        recipe = replace(recipe, members=(form,))
    dogs = read_dogs(barks) if barks is not None else None
    tables = voice_tables(work, tables)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    grammars = grammar_dir()
    phrases = short_phrases(grammars)
    print(f"Seed {seed}, {platform.machine()}, PyTorch {torch.__version__}, {device}.")
    if tables is None:
        print("No natural voices: npm kokoro-js is not at hand. The ear will be much weaker.")
    shop = ClipWorkshop(work=work, tables=tables, seed=seed, device=speak_on)
    clips = make_material(
        shop, phrases, amounts, grammars=grammars, kept_only=kept_only, processes=processes
    )
    print_material(clips)
    material = with_pieces(clips, frozenset(phrases), _PIECES, np.random.default_rng(seed))
    bank = fill_bank(amounts.noises, amounts.others, amounts.rooms, seed, barks=dogs)
    index: Mapping[str, int] = {phrase: k for k, phrase in enumerate(phrases, start=1)}
    fitted = fit_ear(torch, material, bank, index, recipe, seed, device, begin=before)
    of = recipe.noisiness
    held = examples(torch, material, bank, index, device, seed + 1, fitted.network, of)
    standard, member, outputs = _head(fitted, held.features)
    trials = draw_trials(held.labels, open_sets(grammars, phrases), seed)
    some = np.random.default_rng(seed).permutation(len(trials))[:_TRIALS]
    calibration = calibrate(outputs, [trials[k] for k in some])
    print(f"\n{recipe}; {calibration}")
    print_judgement(outputs, trials, held.speakers, calibration)
    save_head(
        out / "noise_head.npz",
        phrases,
        standard,
        [member],
        temperature=calibration.temperature,
        closed_weight=calibration.closed_weight,
        notes=f"seed {seed}; {len(material.texts)} clips; {recipe}; {amounts}",
    )
    if fitted.network is not None:
        (out / "noise_network.tflite").write_bytes(tuned_file(fitted.network))
    print(f"\nWritten: {out / 'noise_head.npz'} and noise_network.tflite")


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line; the exit status."""
    parser = argparse.ArgumentParser(
        prog="python -m handsfree.hearing.training.noise_ear",
        description=(__doc__ or "").splitlines()[0],
    )
    parser.add_argument("--work", type=Path, default=Path("ear-training"), help="folder of clips")
    parser.add_argument("--out", type=Path, default=Path(ear.__file__).parent, help="folder")
    parser.add_argument("--begin", type=Path, metavar="FOLDER", help="both files, to go on from")
    parser.add_argument("--seed", type=int, default=21)
    parser.add_argument("--voices", type=Path, help="voice tables of npm kokoro-js, else fetched")
    parser.add_argument("--processes", type=int, default=1, help="how many make clips at once")
    parser.add_argument("--kept-only", action="store_true", help="make no new clip")
    parser.add_argument("--speak-on", metavar="cuda", help="graphics processor that makes clips")
    parser.add_argument("--barks", type=Path, metavar="FOLDER", help="recordings of dogs (*.wav)")
    parser.add_argument("--noisy", action="store_true", help="train it in little but noise")
    how_long = parser.add_mutually_exclusive_group()
    how_long.add_argument("--epochs", type=int, default=EarRecipe.epochs)
    how_long.add_argument("--minutes", type=float, help="train for so long instead")
    given = parser.parse_args(arguments)
    try:
        train(
            work=given.work,
            out=given.out,
            seed=given.seed,
            tables=given.voices,
            recipe=EarRecipe(
                epochs=given.epochs,
                minutes=given.minutes,
                noisiness=NOISY if given.noisy else USUAL,
            ),
            kept_only=given.kept_only,
            processes=given.processes,
            speak_on=given.speak_on,
            barks=given.barks,
            begin=given.begin,
        )
    except HandsfreeError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main())
