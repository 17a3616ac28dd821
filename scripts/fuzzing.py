"""What `scripts/fuzz` runs: broken files, guided by which code they reach, and what they break.

    python scripts/fuzzing.py dxf|svg|toml SECONDS

Each failure goes to out/fuzz/KIND once for each place that it comes from, with the file that
causes it; the run goes on. A crash of the process, or a hang, ends it with another status
than 0.
"""

from __future__ import annotations

import random
import resource
import sys
import tempfile
import traceback
from collections import Counter
from pathlib import Path
from typing import Final

import atheris

with atheris.instrument_imports(  # what reads files
    include=["silhouette3d", "ezdxf", "tinycss2", "cssselect2", "tomllib"]
):
    import ezdxf.filemanagement
    import ezdxf.recover  # noqa: F401
    import tinycss2  # noqa: F401

    import hostile
    from hostile_seeds import ROOT, seeds

SECONDS: Final = 5.0
THOROUGH_SECONDS: Final = 20.0
THOROUGH: Final = 0.02
"""Share of the inputs of which the part is checked and cut as well."""
MEMORY: Final = 6 * 1024**3
LONGEST: Final = 60_000
"""Bytes of an input."""


class Fuzzer:
    """One run over one kind of file."""

    def __init__(self, kind: str, folder: Path, out: Path) -> None:
        self.kind, self.folder, self.out = kind, folder, out
        self.seen: Counter[str] = Counter()
        self.rng = random.Random(0)

    def one(self, data: bytes) -> None:
        """Try one input; what goes wrong is written down and the run goes on."""
        thorough = self.rng.random() < THOROUGH
        try:
            with hostile.seconds(THOROUGH_SECONDS if thorough else SECONDS):
                hostile.trial(data, self.kind, self.folder, thorough=thorough)
        except (Exception, hostile.TooSlowError) as error:
            self.note(data, error)

    def note(self, data: bytes, error: BaseException) -> None:
        """Keep an input, unless one that fails in the same place is there already."""
        frames = traceback.extract_tb(error.__traceback__)
        ours = [f for f in frames if "silhouette3d" in f.filename or "scripts" in f.filename]
        at = ours[-1] if ours else frames[-1]
        place = f"{type(error).__name__}-{Path(at.filename).stem}-{at.name}"
        self.seen[place] += 1
        if self.seen[place] <= 3:
            name = f"{place}-{self.seen[place]}"
            (self.out / f"{name}.{self.kind}").write_bytes(data)
            (self.out / f"{name}.txt").write_text(
                "".join(traceback.format_exception(error)), errors="backslashreplace"
            )

    def mutated(self, data: bytes, most: int, seed: int) -> bytes:
        """Half the changes know what a reader cares about, half are of single bytes."""
        if seed % 2:
            return bytes(atheris.Mutate(data, most))
        return hostile.broken(data, random.Random(seed), self.kind)[:most]


def main() -> None:
    """Run until the time is up."""
    kind, run = sys.argv[1], int(sys.argv[2])
    out = ROOT / "out" / "fuzz" / kind
    corpus = out / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(seeds(kind)):
        (corpus / f"seed-{number}").write_bytes(seed)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    with tempfile.TemporaryDirectory() as folder:
        hostile.prepare(Path(folder))
        fuzzer = Fuzzer(kind, Path(folder), out)
        for seed in seeds(kind):  # compiles what is compiled when first needed
            hostile.trial(seed, kind, Path(folder), thorough=True)
        options = [f"-max_total_time={run}", f"-max_len={LONGEST}", "-timeout=120"]
        options += ["-rss_limit_mb=0", "-print_final_stats=1", f"-artifact_prefix={out}/"]
        atheris.Setup(
            [sys.argv[0], *options, str(corpus)], fuzzer.one, custom_mutator=fuzzer.mutated
        )
        atheris.Fuzz()


if __name__ == "__main__":
    main()
