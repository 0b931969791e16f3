"""Make the sample logs again, byte for byte: python sample_logs/make_sample.py [--to FOLDER] [--only LOGGER].

The studio, its town, its owners and every reading are invented. See README.md beside this file.
"""

import argparse
from pathlib import Path

from loggers import LOGGERS, downloads
from weather import make_weather

SEED = 1871


def make(folder: Path, only: str = "") -> int:
    """Write the downloads of all loggers, or of one, into a folder. Returns how many bytes were written."""
    folder.mkdir(parents=True, exist_ok=True)
    weather = make_weather(SEED)
    written = 0
    for name, logger in LOGGERS.items():
        if only in ("", name):
            for file, content in downloads(name, logger, weather).items():
                (folder / file).write_bytes(content)
                written += len(content)
    return written


def main() -> None:
    """Read the arguments and make the files."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--to", type=Path, default=Path(__file__).parent / "logs", help="where to write the files")
    parser.add_argument("--only", choices=list(LOGGERS), default="", help="one logger alone")
    arguments = parser.parse_args()
    print(f"{make(arguments.to, arguments.only) / 1e6:.1f} MB written to {arguments.to}")


if __name__ == "__main__":
    main()
