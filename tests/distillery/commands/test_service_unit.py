"""The unit by which systemd starts the server: whole, with the paths of this computer, and no secret in it."""

from __future__ import annotations

import shutil
import subprocess
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command


def unit(**options: object) -> str:
    said = StringIO()
    call_command("service_unit", stdout=said, **options)
    return said.getvalue()


def test_it_serves_this_site_as_whom_it_is_told(settings, tmp_path: Path) -> None:
    settings.COPIES_FOLDER, settings.SEALS_FILE = str(tmp_path / "a copy"), str(tmp_path / "seals" / "noted.txt")
    text = unit(user="stillhouse", port=8100)
    assert "User=stillhouse\n" in text
    assert "serve --host 127.0.0.1 --port 8100\n" in text
    writes = next(line for line in text.splitlines() if line.startswith("ReadWritePaths="))
    assert f'"{tmp_path}/a copy"' in writes
    assert writes.endswith(str(tmp_path / "seals"))
    assert settings.SECRET_KEY not in text
    assert settings.PIN_PEPPER not in text


@pytest.mark.parametrize("options", [{"user": "a b"}, {"host": "0.0.0.0\nUser=root"}, {"port": 0}])
def test_what_cannot_be_meant_is_refused(options: dict[str, object]) -> None:
    with pytest.raises(CommandError):
        unit(**{"user": "stillhouse", **options})


@pytest.mark.faults
@pytest.mark.sqlite
def test_systemd_takes_it(tmp_path: Path) -> None:
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd is not on this computer")
    file = tmp_path / "gaugebook.service"
    file.write_text(unit(user="root"), encoding="utf-8")
    done = subprocess.run(["systemd-analyze", "verify", str(file)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
