"""Where things are kept: the data folder and what lies in it."""

from __future__ import annotations

from pathlib import Path

__all__ = ["data_folder", "models_folder"]


def data_folder(named: str | None = None) -> Path:
    """Return the folder that was named, else the platform's own for this program."""
    if named:
        return Path(named).expanduser()
    import platformdirs

    return Path(platformdirs.user_data_dir("handsfree", appauthor=False))


def models_folder(data: Path) -> Path:
    """Return the folder of installed recogniser models."""
    return data / "models"
