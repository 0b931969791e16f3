"""A wheel built, put into a fresh environment outside the checkout, and used there.

    python -m tests.long.wheel [--fresh]

The wheel holds what it must and no tests; `envwatch demo` and `envwatch review` run from a folder elsewhere, from the
installed files alone. By default the packages of this environment are lent to the new one; `--fresh` has all
dependencies installed anew. Wants the registry, if only to build.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import sysconfig
import tempfile
import venv
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
HELD = ("envwatch/cli/__init__.py", "dashboards/app.py", "envwatch/sample_logs/studio.toml",
        "envwatch/figures/materials/profiles.toml")  # fmt: skip


def called(*words: object, at: Path) -> str:
    """What a program says, run in a folder without a word of where the checkout is. RuntimeError: it failed."""
    env = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "ENVWATCH"))}
    done = subprocess.run([*map(str, words)], cwd=at, env=env, capture_output=True, text=True, encoding="utf-8")
    if done.returncode:
        raise RuntimeError(f"{' '.join(map(str, words))}\n{done.stdout}{done.stderr}")
    return done.stdout


def run(folder: Path, fresh: bool) -> list[str]:
    """Build, install, use; what was found, line by line. AssertionError, RuntimeError: it does not work outside."""
    called(sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", folder, ROOT, at=folder)
    (wheel,) = folder.glob("envwatch-*.whl")
    names = zipfile.ZipFile(wheel).namelist()
    assert not set(HELD) - set(names), set(HELD) - set(names)
    assert not [name for name in names if name.startswith("tests") or "__pycache__" in name]

    venv.create(folder / "venv")
    scripts = folder / "venv" / ("Scripts" if os.name == "nt" else "bin")
    python, elsewhere = scripts / "python", folder / "elsewhere"
    lent = () if fresh else ("--no-deps",)
    called(sys.executable, "-m", "pip", "--python", python, "install", "-q", *lent, wheel, at=folder)
    if not fresh:
        _lend(python, folder)
    elsewhere.mkdir()
    where = Path(called(python, "-c", "import envwatch; print(envwatch.__file__)", at=elsewhere).strip())
    assert where.is_relative_to(folder / "venv"), f"not the installed one: {where}"
    demo = called(scripts / "envwatch", "demo", "studio", at=elsewhere)
    review = called(scripts / "envwatch", "review", "--studio", "studio", at=elsewhere)
    assert "Herring Fleet" in demo and "Herring Fleet" in review
    return [f"{wheel.name}: {len(names)} files, {wheel.stat().st_size // 1024} kB",
            f"demo: {len(demo.splitlines())} lines, review: {len(review.splitlines())} lines"]  # fmt: skip


def _lend(python: Path, folder: Path) -> None:
    """Let the new environment see this one's packages after its own; an editable checkout among them stays unseen."""
    site = Path(called(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", at=folder).strip())
    (site / "lent.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")


def main() -> None:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--fresh", action="store_true")
    said = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        print("\n".join(run(Path(folder), said.fresh)))


if __name__ == "__main__":
    main()
