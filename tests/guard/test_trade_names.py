"""Guard the project against trade names of materials: what is cut goes by its generic name.

The names are not written here either: a word is looked up by the beginning of its SHA-256. With
48 bits a word that is no trade name is taken for one once in some 10¹⁰ words.
"""

from __future__ import annotations

import hashlib
import re
import subprocess
from collections.abc import Iterable

import pytest

from silhouette3d.base.materials import all_materials
from tests.guard.imports import ROOT

_HASHED = """
    006b059f974f 016e68ad0d2c 04ea56d89106 0882b1dd268d 0a7a712dfa38 0aba07b29d71 0f01a3e8d350
    0f10d3f13b54 13e68b360a2a 14076a945f79 161fcf00d7b6 1657508f4acd 1c9ae44a9c7c 1d9ae29e69a6
    1fdcf769f088 209d0066e722 23a3cf74090e 24ca7508c275 262c3a12caf6 26f67840c83f 29b82fa2dfb1
    2ca9312c406e 2dd494c95051 2f1426208ec3 345767d620ae 3b04e41edfcf 3d34c4449d18 3eb20d54f20a
    4174c3240ae6 417f5909c661 43a61c40538f 444923f3d9d5 459f06abed08 46e09678d004 483a6243dba2
    49ca0d754027 4a781ad26b97 4bf048dd98c9 4d292543f34b 4dec10277d33 4e4600190616 4ef843b91919
    4fd94af79150 50be6e8fdeb1 554bc016fde3 5613d25d3431 57a2da21455f 57a81ccf5eb2 5c9fc1a2d1e9
    5d2d9d13a5cc 5f459f091d1e 608821bcab3c 61c23afb8fa4 6419cbcc1282 68426e66c284 6ba88435eae6
    6f35f27347ce 7197f5c88460 71ffac2d9e6d 730874bd5c1f 736018307dec 74367b344def 749dc4e7ef0f
    75097323c1d3 759dd6605e14 75b33864cd2b 7605d683222d 7b1e0974b314 7b5c8fd522f0 7c8d0568cd56
    7cae14b0c0f1 7cc31fa7f36e 7d3df8978a1d 7fa9bdd9b6e8 81fe30575553 870efef4ca9c 8ccb8fa65506
    8dc2be09d94b 8fe1f2daf665 909b70f5f704 90f131063cdb 9384389986e0 9577dbf0aedc 992571c95c77
    9b33cda9bc69 9b3457a6bbe5 9e23e9a27a70 a1a1d16f23e9 a5f6e465aca4 a96ef412b4f5 ac376f292412
    acc07f085a77 b15041d9dd7b b1f302313db1 b4c0e9333222 b6888f7bad01 b6c1d4c7c463 b8a5291ab7e8
    bc59081474e1 be332d5f0f87 be3830dead80 c11e834f8668 c5ec041c38fa c83bc536cdd5 cac729832e48
    ce10c129e9ef cebdc0ac5ea7 d461d041b212 d72f51b2ee5d dceff44c9949 de92472e6d14 dfc5eec44870
    dfcfe3c89d85 e0896819a4c9 e1ba09604df6 e360ee4319a7 e539745231a4 e68b18c95f37 e9085121ed32
    eae9ee01eaaf f03168930adf f4fec81f5ee0 f7be1f623f60 f85437127381 f937cee8112e f98902de9f4a
    fc9515aedc54
"""
MARKS = frozenset(_HASHED.split())
"""Trade names of plastics, alloys, plate, tool steels, glass, stone, foams and boards, hashed."""


def mark(word: str) -> str:
    """Hash a word as `MARKS` holds it."""
    return hashlib.sha256(word.casefold().encode()).hexdigest()[:12]


def trade_names(text: str) -> set[str]:
    """Words of a text that are trade names."""
    return {word for word in set(re.findall(r"[^\W\d_]+", text)) if mark(word) in MARKS}


def texts() -> Iterable[tuple[str, str]]:
    """Path and text of every file under version control, and of what is about to be."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    for path in filter(None, listed.stdout.split("\0")):
        if (ROOT / path).is_file():
            yield path, (ROOT / path).read_text(encoding="utf-8", errors="replace")


def test_no_file_has_a_trade_name() -> None:
    found = {path: names for path, text in texts() if (names := trade_names(path + " " + text))}
    assert found == {}, "use the generic name, such as PTFE or borosilicate glass"


def test_no_material_has_one() -> None:
    names = [name for one in all_materials() for name in (one.name, *one.aliases)]
    assert trade_names(" ".join(names)) == set()


@pytest.mark.parametrize("text", ["{}", "CUT OF {}-sheet", "alias_{}_718"])
def test_a_trade_name_is_caught(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(globals(), "MARKS", frozenset({mark("Brandium")}))
    assert {one.casefold() for one in trade_names(text.format("bRANDIUM"))} == {"brandium"}
    assert trade_names("brand of brandiums") == set()
