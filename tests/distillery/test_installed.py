"""The program installed from a wheel, with no checkout on the path: it finds its pages, tables and SQL, and serves."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from distillery.starting.where import PROGRAM, site_folder
from tests.running_site import SECRET_KEY, serving_process

LONGEST_S = 300


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the program in it, as a wheel unpacks; its libraries are those of the tests."""
    folder = tmp_path_factory.mktemp("installed")
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    _done([*pip, "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", folder / "wheel", PROGRAM], folder)
    (wheel,) = (folder / "wheel").glob("gaugebook-*.whl")
    _done([*pip, "install", "--no-deps", "--no-index", "--target", folder / "program", wheel], folder)
    return folder / "program"


@pytest.mark.faults
@pytest.mark.sqlite
def test_a_wheel_is_all_that_a_site_needs(installed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONPATH", str(installed))
    monkeypatch.setenv("SECRET_KEY", SECRET_KEY)
    monkeypatch.setenv("GAUGEBOOK_FOLDER", str(tmp_path / "site"))
    monkeypatch.delenv("DATABASE_URL", raising=False)
    command = [sys.executable, str(installed / "bin" / "gaugebook")]
    where = "import distillery; print(distillery.__file__)"
    assert _done([sys.executable, "-c", where], tmp_path).startswith(str(installed))
    # Nobody said where before: the first command makes the folder, and says nothing else.
    _done([*command, "migrate", "--verbosity", "0"], tmp_path)
    assert "no issues" in _done([*command, "check"], tmp_path)
    assert "password middle-cut-70" in _done([*command, "demo", "--month", "--no-serve"], tmp_path)
    assert (tmp_path / "site" / "site.sqlite3").is_file()
    database = f"sqlite:///{tmp_path / 'site' / 'site.sqlite3'}"
    with serving_process(database, command=command, folder=tmp_path) as (_, address):
        with urllib.request.urlopen(f"{address}/sign-on/", timeout=30) as answer:
            page = answer.read().decode()
        assert "Whose name goes on the next entry?" in page
        (style,) = re.findall(r'href="(/static/distillery/tokens\.[0-9a-f]+\.css)"', page)
        with urllib.request.urlopen(f"{address}{style}", timeout=30) as answer:
            assert answer.status == 200


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="each system has a folder of its own")
def test_an_installed_program_keeps_its_data_with_the_user_or_where_it_is_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert site_folder({}) == PROGRAM / ".site"
    monkeypatch.setattr("distillery.starting.where.IS_CHECKOUT", False)
    monkeypatch.setenv("HOME", str(tmp_path))
    # XDG Base Directory Specification, version 0.8: XDG_DATA_HOME, else $HOME/.local/share; relative paths are ignored.
    assert site_folder({}) == tmp_path / ".local/share/gaugebook"
    assert site_folder({"XDG_DATA_HOME": "here"}) == tmp_path / ".local/share/gaugebook"
    assert site_folder({"XDG_DATA_HOME": "/data"}) == Path("/data/gaugebook")
    assert site_folder({"GAUGEBOOK_FOLDER": "/srv/gaugebook", "XDG_DATA_HOME": "/data"}) == Path("/srv/gaugebook")


def _done(command: list[str | Path], folder: Path) -> str:
    done = subprocess.run(
        [*map(str, command)], cwd=folder, env=os.environ, capture_output=True, text=True, timeout=LONGEST_S, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout
