"""Fetch published packages that hold drawings: pinned, checked against their digest, kept.

Each is fetched once from its registry, checked, and unpacked into a folder of `out/corpus`,
which git ignores; only the drawings are kept.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
import os
import shutil
import tarfile
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path, PurePosixPath
from typing import Any, Final

ROOT: Final = Path(__file__).resolve().parents[2]
OUT: Final = ROOT / "out" / "corpus"

NPM: Final = os.environ.get("NPM_CONFIG_REGISTRY", "https://registry.npmjs.org").rstrip("/")
PYPI: Final = os.environ.get("PIP_INDEX_URL", "https://pypi.org/simple").rstrip("/")


@dataclass(frozen=True)
class Package:
    """A package of a registry, and which of its files are drawings.

    Parameters
    ----------
    name, version : str
        As its registry has them.
    licence : str
        Of the drawings, as the package says.
    digest : str
        ``sha512-`` and base 64 as npm's registry has it, or ``sha256-`` and hexadecimal as
        PyPI has it, of the archive of this release.
    drawings : str
        Pattern of the paths in the archive, without the archive's own folder.
    url : callable
        Where the archive is, asked for only when it is fetched.
    left_out : str
        Path in the archive of a JSON list of objects with ``name`` and ``tags``; those
        tagged as somebody's mark are no drawings for us.
    """

    name: str
    version: str
    licence: str
    digest: str
    drawings: str
    url: Callable[[], str]
    left_out: str = ""

    @property
    def folder(self) -> Path:
        """Where its drawings are kept."""
        return OUT / f"{self.name.strip('@').replace('/', '-')}-{self.version}"

    def files(self) -> list[Path]:
        """Every drawing, in the order of their names; fetched when they are not there yet.

        Raises
        ------
        ValueError
            If the archive is not the one that was published.
        OSError
            If it cannot be fetched or kept.
        """
        if not self.folder.is_dir():
            self._fetch()
        return sorted(path for path in self.folder.iterdir() if path.is_file())

    def _fetch(self) -> None:
        with urllib.request.urlopen(self.url(), timeout=120) as answer:
            data = answer.read()
        if (found := digest_of(data, self.digest.partition("-")[0])) != self.digest:
            raise ValueError(f"{self.name} {self.version}: the digest is {found}")
        draft = self.folder.with_name(f"{self.folder.name}.{os.getpid()}")
        draft.mkdir(parents=True)
        try:
            for name, content in drawings_in(data, self.drawings, self.left_out):
                (draft / name).write_bytes(content)
            draft.rename(self.folder)
        except OSError:
            if not self.folder.is_dir():  # else another process was first
                raise
        finally:
            shutil.rmtree(draft, ignore_errors=True)


def digest_of(data: bytes, algorithm: str) -> str:
    """A digest as the registries write it: npm's in base 64, PyPI's in hexadecimal."""
    made = hashlib.new(algorithm, data)
    if algorithm == "sha256":
        return f"sha256-{made.hexdigest()}"
    return f"{algorithm}-{base64.b64encode(made.digest()).decode()}"


def drawings_in(data: bytes, pattern: str, left_out: str = "") -> list[tuple[str, bytes]]:
    """Name and content of every file of a packed archive that a pattern takes."""
    found: dict[str, bytes] = {}
    marks: set[str] = set()
    with tarfile.open(fileobj=io.BytesIO(data)) as archive:
        for member in archive:
            path = PurePosixPath(*PurePosixPath(member.name).parts[1:])
            file = archive.extractfile(member)
            if file is None:
                continue
            if str(path) == left_out:
                marks = {one["name"] for one in json.load(file) if _is_mark(one)}
            elif fnmatch(str(path).lower(), pattern):
                found[path.name] = file.read()
    return [(name, text) for name, text in found.items() if PurePosixPath(name).stem not in marks]


def _is_mark(icon: dict[str, Any]) -> bool:
    return any("logo" in tag.casefold() for tag in icon["tags"])


def npm(name: str, version: str) -> Callable[[], str]:
    """Where npm's registry keeps the archive of a release."""
    return lambda: f"{NPM}/{name}/-/{name.rpartition('/')[2]}-{version}.tgz"


def pypi(name: str, version: str) -> Callable[[], str]:
    """Where the Python index keeps the sources of a release: its page of the project says."""

    def url() -> str:
        asked = urllib.request.Request(
            f"{PYPI}/{name}/", headers={"Accept": "application/vnd.pypi.simple.v1+json"}
        )
        with urllib.request.urlopen(asked, timeout=120) as answer:
            files = json.load(answer)["files"]
        wanted = f"{name}-{version}.tar.gz"
        return next(str(one["url"]) for one in files if one["filename"] == wanted)

    return url


MDI: Final = Package(
    "@mdi/svg",
    "7.4.47",
    "Apache-2.0",
    "sha512-WQ2gDll12T9WD34fdRFgQVgO8bag3gavrAgJ0frN4phlwdJARpE6gO1YvLEMJR0KKgoc+/Ea/A0Pp11I00xBvw==",
    "svg/*.svg",
    npm("@mdi/svg", "7.4.47"),
    "meta.json",
)
"""One filled path each."""

OPEN_ICONIC: Final = Package(
    "open-iconic",
    "1.1.1",
    "MIT",
    "sha512-OQNnNMDxg4q+Kl4+8FT9l+7ZUS2fhDe39inzT1J/lQTmSmrOLI3Fkm/QHu0ro83mIfAhgM+F3ZpuHw8vomHCmQ==",
    "svg/*.svg",
    npm("open-iconic", "1.1.1"),
)
"""Filled paths with transforms, on a page of 8 by 8."""

LUCIDE: Final = Package(
    "lucide-static",
    "1.62.0",
    "ISC",
    "sha512-WBZA/m2PvkFpMGHDtsBck5P2A9G4ehLlYu4GwwICcmEm1BvYVgj00lCDxKRWLlbMlOibLaiwdQ88G5pHkSWgwA==",
    "icons/*.svg",
    npm("lucide-static", "1.62.0"),
)
"""Strokes of all basic shapes, few of them closed: most are to be refused, and with good advice."""

EZDXF: Final = Package(
    "ezdxf",
    "1.4.5",
    "MIT",
    "sha256-a6c3bbc1a65ce764d97c5beafe6ae693d8ed14c6cdae366b50e1974a79d4a00a",
    "integration_tests/data/*.dxf",
    pypi("ezdxf", "1.4.5"),
)
"""DXF files of all releases, many of them damaged, that come with ezdxf's sources."""

PACKAGES: Final = (MDI, OPEN_ICONIC, LUCIDE, EZDXF)
