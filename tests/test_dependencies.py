"""What an installed program stands on: pinned with digests, the same versions as tested, under licences known here."""

from __future__ import annotations

import re
import tomllib
from importlib import metadata
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PINNED = re.compile(r"^([A-Za-z0-9._-]+)(?:\[[^]]*\])?==(\S+)", re.MULTILINE)
LOCK = (ROOT / ".ci" / "locked.txt").read_text(encoding="utf-8")
LOCKED = dict(PINNED.findall(LOCK))
# Permissive ones, and the LGPL, which lets anybody use a library. As SPDX writes them, and as older packages do.
KNOWN = re.compile(
    r"MIT|MIT-0|MIT-CMU|BSD|0BSD|BSD-2-Clause|BSD-3-Clause|Apache-2\.0|Zlib|CC0-1\.0|PSF-2\.0|ZPL 2\.1|"
    r"LGPL-3\.0-only|Apache License, Version 2\.0|BSD License|MIT License"
)


def plain(name: str) -> str:
    """A name as registries compare it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def licence_of(name: str) -> str:
    """What a package says of its licence, in the newest of the three ways it may be said."""
    said = metadata.metadata(name)
    older = (said.get("License") or "").strip()
    classified = [one.split(" :: ")[-1] for one in said.get_all("Classifier", []) if one.startswith("License ::")]
    return str(said.get("License-Expression") or (classified[0] if classified else older))


def test_every_package_is_pinned_as_tested_with_digests() -> None:
    tested = {
        plain(name): version for name, version in PINNED.findall((ROOT / ".ci/constraints.txt").read_text("utf-8"))
    }
    locked = {plain(name): version for name, version in LOCKED.items()}
    assert {name: tested.get(name) for name in locked} == locked
    blocks = re.split(r"\n(?=[a-zA-Z])", LOCK.split("\n", 1)[1])
    assert all(re.search(r"--hash=sha256:[0-9a-f]{64}", block) for block in blocks)
    asked = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    assert {plain(re.match(r"[A-Za-z0-9._-]+", one)[0]) for one in asked} <= locked.keys()


def test_every_dependency_has_a_bound_above() -> None:
    asked = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    # The zone database has years for versions, and the newest is the right one.
    assert [one for one in asked if "<" not in one] == ["tzdata>=2025.1"]


@pytest.mark.parametrize("name", sorted(LOCKED))
def test_its_licence_is_known(name: str) -> None:
    parts = re.split(r" (?:AND|OR) ", licence_of(name))
    unknown = [
        part for part in parts if not KNOWN.fullmatch(part) and "Apache Software" not in part and "Zope" not in part
    ]
    assert unknown == [], f"{name} is under {licence_of(name)}: look whether a site may use it, then add it here"
