"""A digest of what the machine wanted done, so that a replay can be compared step by step."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence

from handsfree.dialogue.actions import Action
from handsfree.dialogue.codec import action_to_json

__all__ = ["actions_digest"]


def actions_digest(actions: Sequence[Action]) -> str:
    """Return 16 hex digits that differ when the actions do; empty for no actions."""
    if not actions:
        return ""
    plain = [action_to_json(action) for action in actions]
    text = json.dumps(plain, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:16]
