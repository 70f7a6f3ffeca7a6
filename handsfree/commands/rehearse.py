"""``handsfree rehearse``: a whole check with an invented dog and a simulated person."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from handsfree.commands.shared import Subparsers, add_command, line

__all__ = ["register"]

DEFAULT = "healthy"


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "rehearse",
        about="run a whole check with an invented dog: real speech, no microphone",
        example="handsfree rehearse\nhandsfree rehearse redflags --wav dialogue.wav\n"
        "handsfree rehearse kennel-row --quiet\nhandsfree rehearse --list",
        run=run,
    )
    parser.add_argument("scenario", nargs="?", default=DEFAULT, help=f"which (default: {DEFAULT})")
    parser.add_argument("--list", action="store_true", help="name the scenarios")
    parser.add_argument("--aloud", action="store_true", help="play it on the loudspeaker")
    parser.add_argument("--wav", metavar="FILE", help="write the dialogue, both voices")
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object and nothing else"
    )
    parser.add_argument("--engine", choices=("pocketsphinx", "vosk"), help="what hears")
    parser.add_argument(
        "--no-barking", action="store_true", help="of a kennel's round: without the barking"
    )
    parser.add_argument("--quiet", action="store_true", help="leave out the dialogue")


def run(args: argparse.Namespace) -> int:
    """Run one scenario."""
    from handsfree.protocol.loader import load
    from handsfree.rehearsal.kennel_scenario import load_round, round_names
    from handsfree.rehearsal.scenario import load_scenario, scenario_names

    protocol = load()
    if args.list:
        for name in scenario_names():
            line(f"{name}: {load_scenario(name, protocol).title}")
        for name in round_names():
            line(f"{name}: {load_round(name, protocol).title}")
        return 0
    if args.scenario in round_names():
        from handsfree.rehearsal.round import rehearse_round

        kennel = load_round(args.scenario, protocol)
        if args.no_barking:
            kennel = replace(kennel, bark_share=0.0)
        rehearsed = partial(rehearse_round, kennel)
    else:
        from handsfree.rehearsal.run import rehearse

        rehearsed = partial(rehearse, load_scenario(args.scenario, protocol))

    def tell(who: str, text: str) -> None:
        if not args.json and not args.quiet:
            line(f"{'    ' if who == 'person' else ''}{text}")
            sys.stdout.flush()

    player = None
    if args.aloud:
        from handsfree.session.live import Player

        player = Player()
    data = getattr(args, "data", None)
    result = rehearsed(
        data=Path(data) if data else None,
        wav=Path(args.wav) if args.wav else None,
        engine=args.engine,
        tell=tell,
        play=player.block if player else None,
    )
    if player is not None:
        player.close()
    if args.json:
        print(json.dumps(result, ensure_ascii=False))
    else:
        _print(result)
    return 0


def _print(result: dict[str, Any]) -> None:
    figures, exam = result["figures"], result["exam"]
    gap = figures["reply_gap_s"]
    line()
    line(f"Rehearsed {result['scenario']} with {result['engine']}: {exam['outcome']}.")
    line(
        f"{figures['right']} of {figures['answers']} items as they are, {figures['wrong']} wrong, "
        f"{figures['missed']} missed, {figures['asked_back']} sounds asked back."
    )
    line(
        f"{figures['dialogue_s']} s of dialogue in {figures['wall_s']} s; "
        f"reply after {gap['p50']} s (median), {gap['p95']} s (95 %); "
        f"{figures['peak_rss_mb']} MB of memory at most."
    )
    if "dogs" in figures:
        _print_round(figures)
    line("The dog and the person are invented.")


def _print_round(figures: dict[str, Any]) -> None:
    """Print what a round has besides."""
    for wording, told in figures["well_dog"].items():
        if told["dogs"]:
            line(
                f"A well dog, {wording} wording: {told['median_s']} s (median of {told['dogs']}), "
                f"{told['longest_s']} s at most; of it the tool's own {told['own_median_s']} s, "
                f"{told['own_longest_s']} s at most."
            )
    flags = figures["flags"]
    line(
        f"{figures['dogs']} dogs, {len(figures['not_seen'])} of them not seen; flagged for a sign "
        f"that may be catching: {', '.join(flags['raised']) or 'none'}; "
        f"true of: {', '.join(flags['true']) or 'none'}."
    )
