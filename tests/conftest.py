"""Fixtures that more than one part of the tests uses."""

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from moved_clock import MovedClock
from pulse import PulseServer, missing_packages

from handsfree.records import Store


@pytest.fixture
def clock() -> MovedClock:
    """Return a clock that the test moves."""
    return MovedClock()


@pytest.fixture
def store(tmp_path: Path, clock: MovedClock) -> Iterator[Store]:
    """Yield an empty store with that clock."""
    with Store.open(tmp_path / "data", clock=clock) as opened:
        yield opened


@pytest.fixture
def pulse(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[PulseServer]:
    """Return a running private PulseAudio, which this process and its children then use.

    Without its Debian packages the test is reported as not run, except under CI, where it fails.
    """
    missing = missing_packages()
    if missing:
        reason = f"needs Debian's packages {', '.join(missing)} (.ci/run installs them)"
        if os.environ.get("CI", "").lower() in ("1", "true"):
            pytest.fail(reason)
        pytest.skip(reason)
    from handsfree.audio.choosing import refresh_devices

    server = PulseServer(tmp_path / "pulse")
    for name, value in server.environment.items():
        monkeypatch.setenv(name, value)
    server.start()
    refresh_devices()
    yield server
    server.stop()


@pytest.fixture
def small_grammars(tmp_path: Path) -> Path:
    """Return a folder with two small grammars: yes and no, stop and skip."""
    (tmp_path / "yesno.jsgf").write_text(
        "#JSGF V1.0;\ngrammar yesno;\npublic <yesno> = yes {yes} | no {no} | no smell {none};\n"
    )
    (tmp_path / "commands.jsgf").write_text(
        "#JSGF V1.0;\ngrammar commands;\npublic <commands> = stop {stop} | skip {skip};\n"
    )
    return tmp_path
