"""Fixtures: the sources from outside, and one measuring of all their files."""

from __future__ import annotations

from pathlib import Path

import pytest

import helpers


@pytest.fixture(scope="session")
def music21_folder() -> Path:
    """The installed music21 package: 808 score files of many exporters."""
    return helpers.music21_folder()


@pytest.fixture(scope="session")
def real_folder() -> Path:
    """Published scores with the positions read off their PDF; skipped when absent."""
    folder = helpers.real_folder()
    if not folder.is_dir():
        pytest.skip(f"no published scores at {folder} (set STAVEGAUGE_REAL)")
    return folder


@pytest.fixture(scope="session")
def measured_wheel(music21_folder: Path) -> dict[str, helpers.Json]:
    """`measure` of every score file of the package, by path."""
    paths = helpers.score_files(music21_folder)
    return helpers.by_path(helpers.run_all("measure", paths, music21_folder))
