"""What several tests of hearing share."""

from pathlib import Path

import pytest


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Hold two small grammars."""
    (tmp_path / "yesno.jsgf").write_text(
        "#JSGF V1.0;\ngrammar yesno;\npublic <yesno> = yes {yes} | no {no} | no smell {none};\n"
    )
    (tmp_path / "commands.jsgf").write_text(
        "#JSGF V1.0;\ngrammar commands;\npublic <commands> = stop {stop} | skip {skip};\n"
    )
    return tmp_path
