"""One target of the study of bad input, led by a coverage-guided fuzzer (atheris), in a process of its own.

    python -m tests.studies.guided TARGET TRIES SEED KEEP REPORT

Started by ``bad_input``. The fuzzer follows every branch of this program's own modules, and goes on from what reached
a new one; it begins with sound input. What was found is written to REPORT as JSON.
"""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

import atheris

with atheris.instrument_imports(include=["ledger"]):
    from tests.studies.bad_input import Found, tried
    from tests.studies.bad_sandbox import Sandbox
    from tests.studies.bad_targets import Targets


def main(name: str, tries: int, seed: int, keep: Path, report: Path) -> None:
    """Let the fuzzer try so many inputs, and write what was found."""
    found, start = Found(name), perf_counter()
    with TemporaryDirectory(prefix="lemel-study-") as folder:
        corpus = Path(folder) / "corpus"
        corpus.mkdir()
        target = next(one for one in Targets(Sandbox(Path(folder))).all() if one.name == name)
        for number, content in enumerate(target.seeds):
            (corpus / str(number)).write_bytes(content)

        def attempt(content: bytes) -> None:
            if found.tries < tries:
                tried(target, content, found, keep)
                if found.tries == tries or found.tries % 1_000 == 0:
                    found.seconds = perf_counter() - start
                    report.write_text(json.dumps(asdict(found)))

        longest = max(4096, *(2 * len(content) for content in target.seeds))
        atheris.Setup([sys.argv[0], f"-atheris_runs={tries + len(target.seeds) + 2}", f"-seed={seed % 2**31}",
                       f"-max_len={longest}", "-timeout=120", "-rss_limit_mb=4096", str(corpus)], attempt)  # fmt: skip
        atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), Path(sys.argv[4]), Path(sys.argv[5]))
