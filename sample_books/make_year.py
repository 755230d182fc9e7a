"""Make the sample year of the invented plant: tickets.jsonl and truth.json, the same bytes every time.

python sample_books/make_year.py                     # the year with its planted troubles, into sample_books/year
python sample_books/make_year.py --honest FOLDER     # the same year without them, into a folder of your choice
"""

from __future__ import annotations

import argparse
import sys
import tomllib
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from year_maker.year import SEED, made  # noqa: E402


def main() -> None:
    """Read the arguments, make the year, write its files."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--honest", metavar="FOLDER", type=Path, help="without troubles, into this folder")
    parser.add_argument("--out", metavar="FOLDER", type=Path, default=HERE / "year", help="where the year goes")
    parser.add_argument("--seed", type=int, default=SEED)
    given = parser.parse_args()
    plant = (HERE / "year" / "plant.toml").read_text(encoding="utf-8")
    out = given.honest or given.out
    out.mkdir(parents=True, exist_ok=True)
    tickets, truth = made(tomllib.loads(plant), given.seed, honest=given.honest is not None)
    (out / "plant.toml").write_text(plant, encoding="utf-8")
    (out / "tickets.jsonl").write_text(tickets, encoding="utf-8")
    (out / "truth.json").write_text(truth, encoding="utf-8")


if __name__ == "__main__":
    main()
