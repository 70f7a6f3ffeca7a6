"""Makes the phone network again, from packages of the public indexes alone.

``python -m handsfree.hearing.training.phone_net --work DIR`` synthesises the grammars' short
phrases, numbers, talk, words and asides in many voices, trains the network on them while every
batch is made rough afresh, prints what it was trained on and how it spells the voices held back,
and writes the file that is shipped. It needs the extra ``train``, many hours of processors for the
clips, and a graphics processor for a network of the shipped size. The clips it keeps.
"""

from __future__ import annotations

import argparse
import platform
import sys
from collections.abc import Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.errors import HandsfreeError
from handsfree.hearing import phones
from handsfree.hearing.grammar import grammar_dir
from handsfree.hearing.phones import PhoneNetwork
from handsfree.hearing.train import voice_tables
from handsfree.hearing.training.phone_batches import Batches, alone
from handsfree.hearing.training.phone_fit import Errors, Recipe, fit, held_errors
from handsfree.hearing.training.phone_harm import NOISY, USUAL, Bank, fill_bank
from handsfree.hearing.training.phone_material import (
    PHONES,
    ClipWorkshop,
    PhoneAmounts,
    PhoneMaterial,
    make_material,
    print_material,
)
from handsfree.hearing.training.phone_mix import grown
from handsfree.hearing.training.phone_model import (
    Model,
    load_torch,
    read_weights,
    scaled,
    write_network,
)
from handsfree.hearing.training.recorded_barks import read_dogs
from handsfree.hearing.training.texts import short_phrases

__all__ = ["main", "train", "worked_example"]

_COMPARED = 20
_SCALE = 2
"""Frames of the worked example are kept in steps of 1 / _SCALE dB, which a byte holds."""
_LIKELY = np.log(0.01)


def _print_errors(errors: dict[str, Errors]) -> None:
    print("\nHeld-back voices, the likeliest path against what was said:")
    print("group\ttakes\tphones\twrong\tphone error rate")
    for group, found in errors.items():
        rate = f"{found.wrong / found.phones:.1%}" if found.phones else "nothing said"
        print(f"{group}\t{found.takes}\t{found.phones}\t{found.wrong}\t{rate}")


def worked_example(torch: Any, model: Model, frames: np.ndarray) -> np.ndarray:
    """Return log probabilities as PyTorch computes them, shape (ceil(n / 2), outputs).

    Args:
        torch: The module.
        model: Trained; it is brought to the processor.
        frames: In dB, shape (n, 32).
    """
    model.module.cpu().eval()
    x = scaled(torch.from_numpy(frames).float()).T[None]
    with torch.no_grad():
        logits = model(x, torch.ones(1, 1, -(-len(frames) // 2)))[0]
    found: np.ndarray = torch.log_softmax(logits, 0).T.numpy()
    return found


def _clean_frames(torch: Any, material: PhoneMaterial, bank: Bank) -> list[np.ndarray]:
    """Frames of some of the clips held back, clean, in dB as a byte holds them."""
    held = np.flatnonzero(material.held)
    chosen = held[:: max(1, len(held) // _COMPARED)]
    batch = Batches(torch, material, bank, "cpu", 0)(alone(chosen), harm=False)
    pairs = zip(batch.frames.numpy(), batch.counts.tolist(), strict=True)
    return [np.round(frames[:count] * _SCALE) / np.float32(_SCALE) for frames, count in pairs]


def _compare(torch: Any, model: Model, examples: Sequence[np.ndarray], out: Path) -> None:
    """Print how far what the program computes is from what PyTorch does."""
    read = PhoneNetwork(out)
    worst = worst_likely = 0.0
    for frames in examples:
        wanted, found = worked_example(torch, model, frames), read(frames)
        worst = max(worst, float(np.abs(np.exp(found) - np.exp(wanted)).max()))
        far = np.abs(found - wanted)[wanted > _LIKELY]
        worst_likely = max(worst_likely, float(far.max(initial=0.0)))
    print(
        f"\nThe written file against PyTorch: probabilities differ by at most {worst:.5f}, "
        f"log probabilities above log 0.01 by {worst_likely:.5f}."
    )


def train(
    *,
    grammars: Path,
    work: Path,
    out: Path,
    seed: int,
    tables: Path | None = None,
    amounts: PhoneAmounts,
    recipe: Recipe,
    kept_only: bool = False,
    processes: int = 1,
    example: Path | None = None,
    begin: Path | None = None,
    speak_on: str | None = None,
    barks: Path | None = None,
) -> None:
    """Make, train, print and write.

    Args:
        grammars: Folder of JSGF files.
        work: Folder of clips.
        out: The network's file.
        seed: Of all that is drawn by lot.
        tables: Folder of the natural voices' tables; looked for or fetched where none is given.
        amounts: How much is made.
        recipe: How it is trained.
        kept_only: Leave out what needs new speech.
        processes: How many make clips at once.
        example: Where one held-back utterance and PyTorch's output for it are written.
        begin: A network of as many channels to go on from; one of fewer blocks is grown.
        speak_on: A graphics processor that speaks with the natural voices, as PyTorch names it.
        barks: Folder of recordings of dogs, to bark among the other sounds.

    Raises:
        HandsfreeError: A package is missing, or a grammar can't be read.
    """
    torch = load_torch()  # before anything is fetched or made
    weights = read_weights(begin) if begin is not None else None
    if weights is not None and len(weights.blocks) < recipe.blocks:
        weights = grown(weights, recipe.blocks)
    dogs = read_dogs(barks) if barks is not None else None
    tables = voice_tables(work, tables)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    texts = short_phrases(grammars)
    print(f"Seed {seed}, {platform.machine()}, PyTorch {torch.__version__}, {device}.")
    print(f"{len(texts)} short phrases in {grammars}.")
    if tables is None:
        print("No natural voices: npm kokoro-js is not at hand. The network will be much weaker.")
    shop = ClipWorkshop(work=work, tables=tables, seed=seed, device=speak_on)
    material = make_material(
        shop, texts, amounts, grammars=grammars, kept_only=kept_only, processes=processes
    )
    print_material(material)
    print(f"\n{recipe}; {amounts}")
    bank = fill_bank(amounts.noises, amounts.others, amounts.rooms, seed, barks=dogs)
    model = fit(torch, material, bank, recipe, seed, device, begin=weights)
    _print_errors(held_errors(torch, model, material, bank, device))
    write_network(out, PHONES, model.folded())
    examples = _clean_frames(torch, material, bank)
    _compare(torch, model, examples, out)
    if example is not None:
        log_probs = worked_example(torch, model, examples[0])
        with example.open("wb") as file:
            np.savez(file, frames=(examples[0] * _SCALE).astype(np.uint8), log_probs=log_probs)
    print(f"\nWritten: {out} ({out.stat().st_size / 1e6:.1f} MB)")


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line; the exit status."""
    parser = argparse.ArgumentParser(
        prog="python -m handsfree.hearing.training.phone_net",
        description=(__doc__ or "").splitlines()[0],
    )
    work = Path("ear-training")  # as the second ear has: both are made of the same clips
    parser.add_argument("--work", type=Path, default=work, help="folder of clips")
    shipped = Path(phones.__file__).with_name("network.npz")
    parser.add_argument("--out", type=Path, default=shipped)
    parser.add_argument("--grammars", type=Path, help="folder of JSGF files, if another")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--voices", type=Path, help="voice tables of npm kokoro-js, else fetched")
    parser.add_argument("--processes", type=int, default=1, help="how many make clips at once")
    parser.add_argument("--kept-only", action="store_true", help="make no new clip")
    parser.add_argument("--begin", type=Path, help="a network of as many channels to go on from")
    parser.add_argument("--speak-on", metavar="cuda", help="graphics processor that makes clips")
    parser.add_argument("--example", type=Path, help="write one utterance's output too, for tests")
    parser.add_argument("--barks", type=Path, metavar="FOLDER", help="recordings of dogs (*.wav)")
    parser.add_argument("--noisy", action="store_true", help="train it to listen in noise alone")
    parser.add_argument("--step", type=float, default=Recipe.step, help="largest step of AdamW")
    for name in ("channels", "blocks", "batch"):
        parser.add_argument(f"--{name}", type=int, default=getattr(Recipe(), name))
    how_long = parser.add_mutually_exclusive_group()
    how_long.add_argument("--epochs", type=int, default=Recipe.epochs)
    how_long.add_argument("--minutes", type=float, help="train for so long instead")
    amounts = parser.add_argument_group("amounts", (PhoneAmounts.__doc__ or "").splitlines()[0])
    for field in fields(PhoneAmounts):
        option = "--" + field.name.replace("_", "-")
        amounts.add_argument(option, type=int, default=field.default, metavar="N")
    given = parser.parse_args(arguments)
    try:
        train(
            grammars=given.grammars or grammar_dir(),
            work=given.work,
            out=given.out,
            seed=given.seed,
            tables=given.voices,
            amounts=PhoneAmounts(**{f.name: getattr(given, f.name) for f in fields(PhoneAmounts)}),
            recipe=replace(
                Recipe(),
                channels=given.channels,
                blocks=given.blocks,
                batch=given.batch,
                epochs=given.epochs,
                minutes=given.minutes,
                step=given.step,
                noisiness=NOISY if given.noisy else USUAL,
            ),
            kept_only=given.kept_only,
            processes=given.processes,
            example=given.example,
            begin=given.begin,
            speak_on=given.speak_on,
            barks=given.barks,
        )
    except HandsfreeError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main())
