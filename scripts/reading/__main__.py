"""Read a corpus of drawings, judge their areas, and print what came of them.

    python -m reading [--most N] [--again] [PACKAGE …]

Results are kept in out/corpus/results, one line for each drawing, so that a run that was ended
goes on; when the program has changed since, it begins again.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import json
import multiprocessing
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from reading import judges
from reading.packages import OUT, PACKAGES, ROOT, Package
from reading.trial import CHOICES, Trial, confine, kind, tried
from tests.support.browser import launch

MOST: Final = 200
"""Drawings of each package that are taken."""

AT_ONCE: Final = 50
"""Drawings that a process reads before it ends and gives its memory back."""

_EDGE: Final = 0.15
"""Share of a pixel by which a painted border may be off all along: how a browser smooths edges,
measured on circles."""


@dataclass(frozen=True)
class Result:
    """What came of one drawing, and what others say of its area.

    Parameters
    ----------
    file : str
        Its name in the package.
    trial : Trial
        As it stands.
    choices : dict
        Where it is refused, what comes of it with each choice that a job may declare.
    judged : float, optional
        Area in mm² by other means.
    room : float
        mm² by which the two may differ.
    """

    file: str
    trial: Trial
    choices: dict[str, Trial]
    judged: float | None = None
    room: float = 0.0

    @property
    def differs(self) -> bool:
        """Whether the judge says otherwise, and no warning says that it is in doubt."""
        if self.trial.outcome != "read" or self.judged is None or self.trial.warnings:
            return False
        return abs(self.trial.area - self.judged) > self.room

    @classmethod
    def of(cls, values: dict[str, Any]) -> Result:
        """From its line in the file of results."""
        tried = {name: Trial(**one) for name, one in values.pop("choices").items()}
        return cls(trial=Trial(**values.pop("trial")), choices=tried, **values)


def main() -> int:
    """Run over the packages that are named, or all."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("package", nargs="*", choices=[[], *(p.name for p in PACKAGES)])
    parser.add_argument("--most", type=int, default=MOST, help="drawings of each package")
    parser.add_argument("--again", action="store_true", help="forget what was found before")
    asked = parser.parse_args()
    chosen = [p for p in PACKAGES if p.name in asked.package or not asked.package]
    stamp, rows = _stamp(), []
    with _a_page() as page:
        for package in chosen:
            files = spread(package.files(), asked.most)
            kept = OUT / "results" / f"{package.folder.name}.jsonl"
            results = _results(package, files, kept, stamp, page, again=asked.again)
            rows.append(_row(package, results))
            _tell(package, results)
    print("\n" + table(rows))
    return 1 if any(row[-2:] != ("0", "0") for row in rows) else 0


def spread(files: Sequence[Path], most: int) -> list[Path]:
    """So many files, evenly over the names."""
    if len(files) <= most:
        return list(files)
    return [files[i * len(files) // most] for i in range(most)]


def _results(
    package: Package, files: list[Path], kept: Path, stamp: str, page: Any, *, again: bool
) -> list[Result]:
    """Results of all files, those that are kept first; the others are found and kept."""
    found: dict[str, Result] = {}
    kept.parent.mkdir(parents=True, exist_ok=True)
    lines = kept.read_text("utf-8").splitlines() if kept.exists() and not again else []
    if lines[:1] == [stamp]:
        found = {one.file: one for one in (Result.of(json.loads(line)) for line in lines[1:])}
    else:
        kept.write_text(stamp + "\n", "utf-8")
    waiting = [path for path in files if path.name not in found]
    with kept.open("a", encoding="utf-8") as out:
        for count, result in enumerate(_found(waiting, page), start=1):
            found[result.file] = result
            out.write(json.dumps(asdict(result)) + "\n")
            out.flush()
            if count % AT_ONCE == 0 or count == len(waiting):
                print(f"{package.name}: {count} of {len(waiting)}", file=sys.stderr, flush=True)
    return [found[path.name] for path in files]


def _found(files: list[Path], page: Any) -> Iterator[Result]:
    for first in range(0, len(files), AT_ONCE):
        some = files[first : first + AT_ONCE]
        for path, (trial, choices) in zip(some, _tried(some), strict=True):
            judged, room = _judged(path, trial, page)
            yield Result(path.name, trial, choices, judged, room)


def _tried(files: list[Path]) -> Iterator[tuple[Trial, dict[str, Trial]]]:
    """Read some files in a process of their own; one that dies is a crash of its file."""
    fresh = multiprocessing.get_context("spawn")
    waiting = list(files)
    while waiting:
        with ProcessPoolExecutor(1, fresh, confine) as pool:
            for path in list(waiting):
                try:
                    result = pool.submit(tried, path).result()
                except BrokenProcessPool:
                    result = Trial("crashed", "the process died"), {}
                yield result
                waiting.remove(path)
                if result[0].reason == "the process died":
                    break


def _judged(path: Path, trial: Trial, page: Any) -> tuple[float | None, float]:
    """Area of what was read by other means, and by how much the two may differ."""
    if trial.outcome != "read":
        return None, 0.0
    if path.suffix.lower() == ".dxf":
        return judges.dxf_area(path), trial.bound + 1e-3 * trial.length
    if page is None or (painted := judges.svg_area(page, path)) is None:
        return None, 0.0
    area, pixel = painted
    return area, trial.bound + _EDGE * pixel * trial.length


@contextlib.contextmanager
def _a_page() -> Iterator[Any]:
    """A page of a browser; without one, SVG is not judged."""
    import pytest
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        try:
            opened = launch(playwright.chromium)
        except (pytest.skip.Exception, pytest.fail.Exception) as missing:
            print(f"Areas of SVG are not judged: {missing}", file=sys.stderr)
            yield None
            return
        try:
            yield opened.new_page()
        finally:
            opened.close()


def _stamp() -> str:
    """Tell this state of the program and of the judges from others."""
    made = hashlib.sha256()
    for folder in ("silhouette3d", "scripts/reading"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            made.update(path.read_bytes())
    return f"# {made.hexdigest()}"


HEAD: Final = (
    "package",
    "licence",
    "drawings",
    "read",
    "with a note",
    "with a warning",
    "refused",
    *(f"then read with `{name}`" for name in CHOICES),
    "crashed",
    "area differs",
)


def _row(package: Package, results: Sequence[Result]) -> tuple[str, ...]:
    read = [one for one in results if one.trial.outcome == "read"]
    helped = [
        sum(name in one.choices and one.choices[name].outcome == "read" for one in results)
        for name in CHOICES
    ]
    counts = (
        len(results),
        len(read),
        sum(_worth_a_note(one.trial) for one in read),
        sum(bool(one.trial.warnings) for one in read),
        sum(one.trial.outcome == "refused" for one in results),
        *helped,
        len(_crashes(results)),
        sum(one.differs for one in results),
    )
    return (f"{package.name} {package.version}", package.licence, *map(str, counts))


def _crashes(results: Sequence[Result]) -> list[str]:
    """Each drawing that crashed, how it was read, and why."""
    return [
        f"{one.file} {how}: {trial.reason}"
        for one in results
        for how, trial in (("as it stands", one.trial), *one.choices.items())
        if trial.outcome == "crashed"
    ]


def _worth_a_note(trial: Trial) -> bool:
    """Whether more is told than which unit was taken."""
    return any(not note.startswith("states no unit") for note in trial.notes)


def _tell(package: Package, results: Sequence[Result]) -> None:
    """Why drawings were refused, what was told of others, and where the judge says otherwise."""
    print(f"\n{package.name} {package.version} ({package.licence})")
    refused = [one.trial.reason for one in results if one.trial.outcome == "refused"]
    for name, messages in {
        "refused": refused,
        "noted": [note for one in results for note in one.trial.notes],
        "warned": [code for one in results for code in one.trial.warnings],
    }.items():
        for reason, count in Counter(map(kind, messages)).most_common():
            print(f"  {count:4} {name}: {reason}")
    for crash in _crashes(results):
        print(f"  crashed: {crash}")
    for one in results:
        if one.differs:
            print(
                f"  area differs: {one.file}: {one.trial.area:.4f} mm², judged "
                f"{one.judged:.4f} ± {one.room:.4f}; notes: {'; '.join(one.trial.notes) or 'none'}"
            )


def table(rows: Sequence[tuple[str, ...]]) -> str:
    """Markdown, as README has it."""
    lines = [HEAD, tuple("---" for _ in HEAD), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


if __name__ == "__main__":
    sys.exit(main())
